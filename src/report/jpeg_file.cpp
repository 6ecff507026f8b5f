#include "jpeg_file.hpp"

// jpeglib.h uses <cstdio> without including it: not to be sorted.
// clang-format off
#include <cstdio>
#include <jpeglib.h>
// clang-format on

#include <csetjmp>
#include <cstdlib>

namespace corefleck {
namespace {

struct Errors {
  jpeg_error_mgr manager{};  // first: libjpeg hands out its address
  std::jmp_buf spring{};
};

// Nothing with a destructor lives in here, since an error of libjpeg jumps out of it.
bool compress(const cv::Mat& pixels, int quality, unsigned char** bytes, unsigned long* size) {
  jpeg_compress_struct info{};
  Errors errors;
  info.err = jpeg_std_error(&errors.manager);
  errors.manager.error_exit = [](j_common_ptr common) {
    std::longjmp(reinterpret_cast<Errors*>(common->err)->spring, 1);
  };
  errors.manager.output_message = [](j_common_ptr) {};
  if (setjmp(errors.spring) != 0) {
    jpeg_destroy_compress(&info);
    return false;
  }
  jpeg_create_compress(&info);
  jpeg_mem_dest(&info, bytes, size);
  info.image_width = static_cast<JDIMENSION>(pixels.cols);
  info.image_height = static_cast<JDIMENSION>(pixels.rows);
  info.input_components = 4;
  info.in_color_space = JCS_EXT_BGRX;
  jpeg_set_defaults(&info);
  jpeg_set_quality(&info, quality, TRUE);
  info.dct_method = JDCT_ISLOW;
  jpeg_start_compress(&info, TRUE);
  while (info.next_scanline < info.image_height) {
    auto* row = const_cast<JSAMPROW>(pixels.ptr(static_cast<int>(info.next_scanline)));
    jpeg_write_scanlines(&info, &row, 1);
  }
  jpeg_finish_compress(&info);
  jpeg_destroy_compress(&info);
  return true;
}

}  // namespace

std::string jpeg_of(const cv::Mat& pixels, int quality) {
  if (pixels.empty() || pixels.type() != CV_8UC4) return {};
  unsigned char* bytes = nullptr;
  unsigned long size = 0;
  const bool made = compress(pixels, quality, &bytes, &size);
  std::string file;
  if (made) file.assign(reinterpret_cast<const char*>(bytes), size);
  std::free(bytes);
  return file;
}

}  // namespace corefleck
