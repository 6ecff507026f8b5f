#include "png_file.hpp"

#include <png.h>
#include <zlib.h>

#include <cmath>
#include <csetjmp>
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

/// Owns libpng's two structs. Everything that may jump lives in `encode`, which holds no object with a
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

  [[nodiscard]] bool encode(const PagePixels& page, png_uint_32 px_per_metre, png_bytepp rows) {
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
    set_effort();
    png_write_info(png_, info_);
    png_set_filler(png_, 0, PNG_FILLER_AFTER);
    png_set_bgr(png_);
    png_write_image(png_, rows);
    png_write_end(png_, nullptr);
    return true;
  }

 private:
  void set_effort();
  png_structp png_;
  png_infop info_;
};

void PngWriter::set_effort() {
  png_set_filter(png_, PNG_FILTER_TYPE_BASE, PNG_FILTER_SUB);
  png_set_compression_level(png_, 1);
  png_set_compression_strategy(png_, Z_RLE);
}

}  // namespace

Result<std::string> png_of(const PagePixels& page, double px_per_metre) {
  std::vector<png_bytep> rows;
  rows.reserve(static_cast<std::size_t>(page.height_px));
  for (int row = 0; row < page.height_px; ++row)
    // libpng wants pointers to non-const and leaves the rows as they were.
    rows.push_back(const_cast<png_bytep>(page.first) + static_cast<std::ptrdiff_t>(row) * page.stride_bytes);
  std::string bytes;
  if (!PngWriter(bytes).encode(page, static_cast<png_uint_32>(std::lround(px_per_metre)), rows.data()))
    return failure(ErrorCode::cannot_write,
                   "overlay.png: out of memory while encoding",
                   "measure this photo alone, with --jobs 1");
  return bytes;
}

}  // namespace corefleck
