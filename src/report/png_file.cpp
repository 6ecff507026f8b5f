#include "png_file.hpp"

#include "deflate.hpp"

#include <png.h>

#include <cmath>
#include <csetjmp>
#include <utility>
#include <vector>

namespace corefleck {
namespace {

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

  [[nodiscard]] bool write(const PagePixels& page, png_uint_32 px_per_metre, const std::string& image) {
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
    png_write_chunk(png_, kImageData, reinterpret_cast<png_const_bytep>(image.data()), image.size());
    png_write_chunk(png_, kImageEnd, nullptr, 0);
    return true;
  }

 private:
  static constexpr png_byte kImageData[] = {'I', 'D', 'A', 'T', 0};  // NOLINT(modernize-avoid-c-arrays)
  static constexpr png_byte kImageEnd[] = {'I', 'E', 'N', 'D', 0};   // NOLINT(modernize-avoid-c-arrays)
  png_structp png_;
  png_infop info_;
};

/// Rows as RGB behind a filter byte of 0: differences between neighbours pack no better at the fastest level.
std::string packed_rows(const PagePixels& page) {
  constexpr int kAtOnce = 32;  // rows: they stay in the processor's cache
  const std::size_t row_bytes = 1 + 3 * static_cast<std::size_t>(page.width_px);
  Deflater deflater(static_cast<std::size_t>(page.height_px) * row_bytes);
  std::vector<std::uint8_t> rows(kAtOnce * row_bytes);
  for (int row = 0; row < page.height_px; ++row) {
    const std::uint8_t* bgr = page.first + static_cast<std::ptrdiff_t>(row) * page.stride_bytes;
    const std::size_t held = static_cast<std::size_t>(row % kAtOnce) * row_bytes;
    std::uint8_t* out = rows.data() + held + 1;
    for (int x = 0; x < page.width_px; ++x, bgr += 4, out += 3) {
      out[0] = bgr[2];
      out[1] = bgr[1];
      out[2] = bgr[0];
    }
    if (row % kAtOnce == kAtOnce - 1 || row == page.height_px - 1)
      deflater.add({rows.data(), held + row_bytes});
  }
  return std::move(deflater).finished();
}

}  // namespace

Result<std::string> png_of(const PagePixels& page, double px_per_metre) {
  const std::string image = packed_rows(page);
  std::string bytes;
  if (!PngWriter(bytes).write(page, static_cast<png_uint_32>(std::lround(px_per_metre)), image))
    return failure(ErrorCode::cannot_write,
                   "overlay.png: out of memory while encoding",
                   "measure this photo alone, with --jobs 1");
  return bytes;
}

}  // namespace corefleck
