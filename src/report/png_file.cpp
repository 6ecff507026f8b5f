#include "png_file.hpp"

#include "deflate.hpp"

#include <opencv2/core/utility.hpp>
#include <png.h>
#include <zlib.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <csetjmp>
#include <span>
#include <vector>

namespace corefleck {
namespace {

constexpr int kRowsPerBand = 64;  // 400 kB of a plate

void append(png_structp png, png_bytep data, png_size_t length) {
  try {
    static_cast<std::string*>(png_get_io_ptr(png))->append(reinterpret_cast<const char*>(data), length);
  } catch (...) {  // no exception may cross libpng's C frames
    png_error(png, "out of memory");
  }
}

void flush_nothing(png_structp) {}

/// Owns libpng's two structs. Everything that may jump lives in `write`, which holds no object with a
/// destructor.
class PngWriter {
 public:
  explicit PngWriter(std::string& bytes)
      : png_(png_create_write_struct(
            PNG_LIBPNG_VER_STRING, nullptr, nullptr, [](png_structp, png_const_charp) {})),
        info_(png_ != nullptr ? png_create_info_struct(png_) : nullptr) {
    if (info_ != nullptr) png_set_write_fn(png_, &bytes, append, flush_nothing);
  }
  PngWriter(const PngWriter&) = delete;
  PngWriter& operator=(const PngWriter&) = delete;
  ~PngWriter() { png_destroy_write_struct(&png_, &info_); }

  [[nodiscard]] bool write(const PagePixels& page,
                           png_uint_32 px_per_metre,
                           std::span<const std::string> pieces) {
    if (info_ == nullptr || setjmp(png_jmpbuf(png_)) != 0) return false;
    png_set_IHDR(png_,
                 info_,
                 static_cast<png_uint_32>(page.width_px),
                 static_cast<png_uint_32>(page.height_px),
                 8,
                 PNG_COLOR_TYPE_RGB,
                 PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT,
                 PNG_FILTER_TYPE_DEFAULT);
    png_set_pHYs(png_, info_, px_per_metre, px_per_metre, PNG_RESOLUTION_METER);
    png_write_info(png_, info_);
    for (const std::string& piece : pieces)
      png_write_chunk(png_, kImageData, reinterpret_cast<png_const_bytep>(piece.data()), piece.size());
    png_write_chunk(png_, kImageEnd, nullptr, 0);
    return true;
  }

 private:
  static constexpr png_byte kImageData[] = {'I', 'D', 'A', 'T', 0};  // NOLINT(modernize-avoid-c-arrays)
  static constexpr png_byte kImageEnd[] = {'I', 'E', 'N', 'D', 0};   // NOLINT(modernize-avoid-c-arrays)
  png_structp png_;
  png_infop info_;
};

struct Band {
  std::string bytes;
  uLong check_sum;
  std::size_t length;  // before deflating
};

/// One row as colour differences to the pixel on the left (filter type 1, "Sub").
void filter_row(const std::uint8_t* bgr, int width_px, std::uint8_t* out) {
  *out++ = 1;
  std::array<std::uint8_t, 3> left{};
  for (int x = 0; x < width_px; ++x, bgr += 4, out += 3) {
    for (std::size_t c = 0; c < 3; ++c) out[c] = static_cast<std::uint8_t>(bgr[2 - c] - left[c]);
    left = {bgr[2], bgr[1], bgr[0]};
  }
}

Band band_of(const PagePixels& page, int first_row, int rows) {
  const std::size_t row_bytes = 1 + 3 * static_cast<std::size_t>(page.width_px);
  std::vector<std::uint8_t> filtered(static_cast<std::size_t>(rows) * row_bytes);
  for (int row = 0; row < rows; ++row)
    filter_row(page.first + static_cast<std::ptrdiff_t>(first_row + row) * page.stride_bytes,
               page.width_px,
               filtered.data() + static_cast<std::size_t>(row) * row_bytes);
  const bool last = first_row + rows == page.height_px;
  return {deflated(filtered, last ? DeflateForm::last_piece : DeflateForm::piece),
          adler32(1, filtered.data(), static_cast<uInt>(filtered.size())),
          filtered.size()};
}

/// The zlib stream of the image in pieces. Bands do not look at each other, so all processors share them and
/// the bytes are the same for any number of processors.
std::vector<std::string> image_data(const PagePixels& page) {
  std::vector<Band> bands(static_cast<std::size_t>((page.height_px + kRowsPerBand - 1) / kRowsPerBand));
  cv::parallel_for_(cv::Range(0, static_cast<int>(bands.size())), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i)
      bands[static_cast<std::size_t>(i)] =
          band_of(page, i * kRowsPerBand, std::min(kRowsPerBand, page.height_px - i * kRowsPerBand));
  });
  std::vector<std::string> pieces{"\x78\x01"};  // RFC 1950: deflate, window of 32 KiB, fastest
  uLong sum = 1;
  for (Band& band : bands) {
    sum = adler32_combine(sum, band.check_sum, static_cast<z_off_t>(band.length));
    pieces.push_back(std::move(band.bytes));
  }
  for (const unsigned shift : {24U, 16U, 8U, 0U})
    pieces.back().push_back(static_cast<char>(static_cast<unsigned char>(sum >> shift & 0xFFU)));
  return pieces;
}

}  // namespace

Result<std::string> png_of(const PagePixels& page, double px_per_metre) {
  const std::vector<std::string> pieces = image_data(page);
  std::string bytes;
  if (!PngWriter(bytes).write(page, static_cast<png_uint_32>(std::lround(px_per_metre)), pieces))
    return failure(ErrorCode::cannot_write,
                   "overlay.png: out of memory while encoding",
                   "measure this photo alone, with --jobs 1");
  return bytes;
}

}  // namespace corefleck
