#pragma once

#include "plate_style.hpp"

#include "corefleck/measurement.hpp"

#include <vector>

namespace corefleck {

struct PageBox {
  double x, y, width, height;
};

/// Spots by size class: classes of equal ratio stand equally wide, so the axis is logarithmic.
void draw_size_histogram(cairo_t* cairo, const PageBox& box, const std::vector<SizeClass>& sizes);

}  // namespace corefleck
