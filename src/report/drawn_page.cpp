#include "drawn_page.hpp"

#include "plate_style.hpp"
#include "png_file.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace corefleck {
namespace {

/// Filled by all threads, most of it for the first time; Cairo would clear it on one and fill it on one.
cv::Mat blank(int height_px) {
  cv::Mat pixels(height_px, static_cast<int>(kPlateWidth), CV_8UC4);
  const cv::Scalar white(255.0 * kPaper.blue, 255.0 * kPaper.green, 255.0 * kPaper.red, 255.0);
  cv::parallel_for_(cv::Range(0, height_px),
                    [&](const cv::Range& rows) { pixels.rowRange(rows).setTo(white); });
  return pixels;
}

}  // namespace

Result<DrawnPage> DrawnPage::drawn(const Paper& paper, const std::function<double(cairo_t*)>& draw) {
  const cv::Mat pixels = blank(paper.longest_px);
  const CairoSurface page(cairo_image_surface_create_for_data(const_cast<unsigned char*>(pixels.ptr()),
                                                              CAIRO_FORMAT_RGB24,
                                                              pixels.cols,
                                                              pixels.rows,
                                                              static_cast<int>(pixels.step)));
  const CairoContext cairo(cairo_create(page.get()));
  const int height = std::min(paper.longest_px, static_cast<int>(draw(cairo.get())));
  if (const cairo_status_t status = cairo_status(cairo.get()); status != CAIRO_STATUS_SUCCESS)
    return failure(ErrorCode::cannot_write,
                   fmt::format("{}: drawing failed ({})", paper.name, cairo_status_to_string(status)),
                   std::string(paper.remedy));
  cairo_surface_flush(page.get());
  return DrawnPage(pixels.rowRange(0, height));
}

Result<std::string> DrawnPage::png() const {
  return png_of({pixels_.ptr(), pixels_.cols, pixels_.rows, static_cast<int>(pixels_.step)},
                1000.0 * kPlateWidth / kPrintedWidthMm);
}

Result<std::string> drawn_page(const Paper& paper, const std::function<double(cairo_t*)>& draw) {
  return DrawnPage::drawn(paper, draw).and_then([](const DrawnPage& page) { return page.png(); });
}

}  // namespace corefleck
