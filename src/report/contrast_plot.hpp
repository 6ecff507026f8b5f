#pragma once

#include "plate_style.hpp"
#include "size_histogram.hpp"

#include "corefleck/comparison.hpp"

// So that reading a plot's signature needs no Cairo; the name is Cairo's own.
using cairo_t = struct _cairo;  // NOLINT(bugprone-reserved-identifier)

namespace corefleck {

/// Each spot's contrast dry (across) against wet (up), as L* where a card gives it, else as Weber contrast.
/// On the diagonal nothing changed. Spots seen in one state alone stand along its axis.
void draw_contrast_plot(cairo_t* cairo, const PageBox& box, const StateContrast& contrast);

/// Greys of L* 0 to 100 as the two pictures show them, with their figures.
void draw_lightness_scale(cairo_t* cairo, const PageBox& box, double gain);

}  // namespace corefleck
