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

// A quarter of a megabyte a strip for a usual face: readers need not unpack the whole map to look at a part.
constexpr int kRowsPerStrip = 32;

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
  TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, static_cast<std::uint32_t>(kRowsPerStrip));
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

/// A strip as the predictor wants it, each label less its left neighbour, and packed.
std::string packed_strip(const cv::Mat& labels, int first_row, int rows) {
  const auto width = static_cast<std::size_t>(labels.cols);
  std::vector<std::uint32_t> steps(static_cast<std::size_t>(rows) * width);
  std::uint32_t* out = steps.data();
  for (int row = first_row; row < first_row + rows; ++row, out += width) {
    const auto* label = labels.ptr<std::int32_t>(row);
    out[0] = in_file_order(static_cast<std::uint32_t>(label[0]));
    for (std::size_t x = 1; x < width; ++x)
      out[x] = in_file_order(static_cast<std::uint32_t>(label[x]) - static_cast<std::uint32_t>(label[x - 1]));
  }
  return deflated({reinterpret_cast<const std::uint8_t*>(steps.data()), 4 * steps.size()},
                  DeflateForm::whole_stream);
}

/// libtiff packs one strip after the other; here the processors share them.
std::vector<std::string> packed_strips(const cv::Mat& labels) {
  std::vector<std::string> strips(
      static_cast<std::size_t>((labels.rows + kRowsPerStrip - 1) / kRowsPerStrip));
  cv::parallel_for_(cv::Range(0, static_cast<int>(strips.size())), [&](const cv::Range& range) {
    for (int strip = range.start; strip < range.end; ++strip) {
      const int row = strip * kRowsPerStrip;
      strips[static_cast<std::size_t>(strip)] =
          packed_strip(labels, row, std::min(kRowsPerStrip, labels.rows - row));
    }
  });
  return strips;
}

bool write_strips(TIFF* tiff, std::vector<std::string> strips) {
  std::uint32_t number = 0;
  for (std::string& strip : strips)
    if (TIFFWriteRawStrip(tiff, number++, strip.data(), static_cast<tmsize_t>(strip.size())) < 0)
      return false;
  return TIFFFlush(tiff) == 1;
}

}  // namespace

Result<std::string> label_tiff(const cv::Mat& labels, MmPerPx pitch) {
  CV_Assert(labels.type() == CV_32SC1);
  MemoryFile file;
  bool written = false;
  if (auto tiff = open_for_writing(file)) {
    describe(tiff.get(), labels, pitch);
    written = write_strips(tiff.get(), packed_strips(labels));
  }
  if (!written)
    return failure(
        ErrorCode::cannot_write, "spots.tif: " + file.error, "free some memory and measure this photo alone");
  return std::move(file.bytes);
}

}  // namespace corefleck
