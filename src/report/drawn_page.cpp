#include "drawn_page.hpp"

#include "plate_style.hpp"
#include "png_file.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace corefleck {

Result<std::string> drawn_page(const Paper& paper, const std::function<double(cairo_t*)>& draw) {
  const CairoSurface page(
      cairo_image_surface_create(CAIRO_FORMAT_RGB24, static_cast<int>(kPlateWidth), paper.longest_px));
  const CairoContext cairo(cairo_create(page.get()));
  set_ink(cairo.get(), kPaper);
  cairo_paint(cairo.get());
  const int height = std::min(paper.longest_px, static_cast<int>(draw(cairo.get())));
  if (const cairo_status_t status = cairo_status(cairo.get()); status != CAIRO_STATUS_SUCCESS)
    return failure(ErrorCode::cannot_write,
                   fmt::format("{}: drawing failed ({})", paper.name, cairo_status_to_string(status)),
                   std::string(paper.remedy));
  cairo_surface_flush(page.get());
  return png_of({cairo_image_surface_get_data(page.get()),
                 static_cast<int>(kPlateWidth),
                 height,
                 cairo_image_surface_get_stride(page.get())},
                1000.0 * kPlateWidth / kPrintedWidthMm);
}

}  // namespace corefleck
