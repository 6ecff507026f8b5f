#include "label_tiff.hpp"

#include "deflate.hpp"

#include <opencv2/core/utility.hpp>
#include <tiffio.h>

#include <algorithm>
#include <array>
#include <bit>
#include <cstdarg>
#include <cstdint>
#include <cstdio>
#include <cstring>
#include <memory>
#include <vector>

namespace corefleck {
namespace {

// Tiles rather than strips: most of a face has no spot, and tiles without one are all the same bytes, packed
// once.
constexpr int kTile_px = 128;

/// A file in memory for libtiff, so that the map reaches the disk on the same whole-or-not path as the other
/// files.
struct MemoryFile {
  std::string bytes;
  std::size_t at = 0;
  std::string error;
};

MemoryFile& memory(thandle_t handle) { return *static_cast<MemoryFile*>(handle); }

tmsize_t read_memory(thandle_t handle, void* to, tmsize_t size) {
  MemoryFile& file = memory(handle);
  if (file.at >= file.bytes.size()) return 0;
  const std::size_t length = std::min(static_cast<std::size_t>(size), file.bytes.size() - file.at);
  std::memcpy(to, file.bytes.data() + file.at, length);
  file.at += length;
  return static_cast<tmsize_t>(length);
}

tmsize_t write_memory(thandle_t handle, void* from, tmsize_t size) {
  MemoryFile& file = memory(handle);
  const auto length = static_cast<std::size_t>(size);
  if (file.at + length > file.bytes.size()) file.bytes.resize(file.at + length);
  std::memcpy(file.bytes.data() + file.at, from, length);
  file.at += length;
  return size;
}

toff_t seek_memory(thandle_t handle, toff_t offset, int whence) {
  MemoryFile& file = memory(handle);
  if (whence == SEEK_SET) file.at = offset;
  if (whence == SEEK_CUR) file.at += offset;
  if (whence == SEEK_END) file.at = file.bytes.size() + offset;
  return file.at;
}

int close_memory(thandle_t) { return 0; }
toff_t memory_size(thandle_t handle) { return memory(handle).bytes.size(); }

int keep_error(TIFF*, void* file, const char* /*module*/, const char* format, va_list arguments) {
  std::array<char, 256> text{};
  std::vsnprintf(text.data(), text.size(), format, arguments);
  static_cast<MemoryFile*>(file)->error = text.data();
  return 1;
}

struct CloseTiff {
  void operator()(TIFF* tiff) const { TIFFClose(tiff); }
  void operator()(TIFFOpenOptions* options) const { TIFFOpenOptionsFree(options); }
};

std::unique_ptr<TIFF, CloseTiff> open_for_writing(MemoryFile& file) {
  const std::unique_ptr<TIFFOpenOptions, CloseTiff> options(TIFFOpenOptionsAlloc());
  // Handlers of this file alone: the library's own are global, and other photos are being written by other
  // threads.
  TIFFOpenOptionsSetErrorHandlerExtR(options.get(), keep_error, &file);
  TIFFOpenOptionsSetWarningHandlerExtR(options.get(), keep_error, &file);
  return std::unique_ptr<TIFF, CloseTiff>(TIFFClientOpenExt("spots.tif",
                                                            "wl",  // little-endian on every machine
                                                            &file,
                                                            read_memory,
                                                            write_memory,
                                                            seek_memory,
                                                            close_memory,
                                                            memory_size,
                                                            nullptr,
                                                            nullptr,
                                                            options.get()));
}

void describe(TIFF* tiff, const cv::Mat& labels, MmPerPx pitch) {
  const double px_per_cm = 10.0 / pitch.number();
  TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, static_cast<std::uint32_t>(labels.cols));
  TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, static_cast<std::uint32_t>(labels.rows));
  TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, 32);
  TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, 1);
  TIFFSetField(tiff, TIFFTAG_SAMPLEFORMAT, SAMPLEFORMAT_UINT);
  TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_MINISBLACK);
  TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
  TIFFSetField(tiff, TIFFTAG_ORIENTATION, ORIENTATION_TOPLEFT);
  TIFFSetField(tiff, TIFFTAG_COMPRESSION, COMPRESSION_ADOBE_DEFLATE);
  TIFFSetField(tiff, TIFFTAG_PREDICTOR, PREDICTOR_HORIZONTAL);
  TIFFSetField(tiff, TIFFTAG_TILEWIDTH, static_cast<std::uint32_t>(kTile_px));
  TIFFSetField(tiff, TIFFTAG_TILELENGTH, static_cast<std::uint32_t>(kTile_px));
  TIFFSetField(tiff, TIFFTAG_XRESOLUTION, px_per_cm);
  TIFFSetField(tiff, TIFFTAG_YRESOLUTION, px_per_cm);
  TIFFSetField(tiff, TIFFTAG_RESOLUTIONUNIT, RESUNIT_CENTIMETER);
  TIFFSetField(tiff, TIFFTAG_IMAGEDESCRIPTION, "corefleck spot labels: 0 = none, n = spot_id n");
  TIFFSetField(tiff, TIFFTAG_SOFTWARE, "corefleck");
}

std::uint32_t in_file_order(std::uint32_t sample) {
  if constexpr (std::endian::native == std::endian::little) return sample;
  return sample >> 24U | (sample >> 8U & 0xFF00U) | (sample << 8U & 0xFF0000U) | sample << 24U;
}

/// The part of the map under a tile; tiles go on beyond the map's right and lower edge, where they are 0.
cv::Rect under_tile(const cv::Mat& labels, int column, int row) {
  return cv::Rect(column * kTile_px, row * kTile_px, kTile_px, kTile_px) & cv::Rect({}, labels.size());
}

/// A tile as the predictor wants it, each label less its left neighbour, and packed.
std::string packed_tile(const cv::Mat& labels) {
  std::vector<std::uint32_t> steps(static_cast<std::size_t>(kTile_px) * kTile_px);
  for (int y = 0; y < labels.rows; ++y) {
    std::uint32_t* out = steps.data() + static_cast<std::ptrdiff_t>(y) * kTile_px;
    const auto* label = labels.ptr<std::int32_t>(y);
    std::uint32_t left = 0;
    for (int x = 0; x < kTile_px; ++x) {
      const std::uint32_t here = x < labels.cols ? static_cast<std::uint32_t>(label[x]) : 0;
      out[x] = in_file_order(here - left);
      left = here;
    }
  }
  return deflated({reinterpret_cast<const std::uint8_t*>(steps.data()), 4 * steps.size()});
}

/// libtiff packs one tile after the other; here the processors share them. In reading order.
std::vector<std::string> packed_tiles(const cv::Mat& labels) {
  const int across = (labels.cols + kTile_px - 1) / kTile_px, down = (labels.rows + kTile_px - 1) / kTile_px;
  const std::string empty = packed_tile(cv::Mat(0, 0, CV_32SC1));
  std::vector<std::string> tiles(static_cast<std::size_t>(across) * static_cast<std::size_t>(down));
  cv::parallel_for_(cv::Range(0, across * down), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      const cv::Mat tile = labels(under_tile(labels, i % across, i / across));
      tiles[static_cast<std::size_t>(i)] = cv::countNonZero(tile) > 0 ? packed_tile(tile) : empty;
    }
  });
  return tiles;
}

bool write_tiles(TIFF* tiff, std::vector<std::string> tiles) {
  std::uint32_t number = 0;
  for (std::string& tile : tiles)
    if (TIFFWriteRawTile(tiff, number++, tile.data(), static_cast<tmsize_t>(tile.size())) < 0) return false;
  return TIFFFlush(tiff) == 1;
}

}  // namespace

Result<std::string> label_tiff(const cv::Mat& labels, MmPerPx pitch) {
  CV_Assert(labels.type() == CV_32SC1);
  MemoryFile file;
  bool written = false;
  if (auto tiff = open_for_writing(file)) {
    describe(tiff.get(), labels, pitch);
    written = write_tiles(tiff.get(), packed_tiles(labels));
  }
  if (!written)
    return failure(
        ErrorCode::cannot_write, "spots.tif: " + file.error, "free some memory and measure this photo alone");
  return std::move(file.bytes);
}

}  // namespace corefleck
