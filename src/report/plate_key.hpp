#pragma once

#include "face_frame.hpp"
#include "plate_style.hpp"
#include "size_histogram.hpp"

#include "corefleck/segmentation.hpp"

namespace corefleck {

/// Ring of marks round the face at every 30 degrees of `clock_deg`.
void draw_clock_ring(cairo_t* cairo, const FaceFrame& frame);
/// Bar in steps of 10 mm, no longer than `longest_px`. Gives back the height used.
double draw_scale_bar(cairo_t* cairo, double x, double y, double longest_px, double px_per_mm);
/// A line for each kind of mark that this plate holds. Gives back the height used.
double draw_key(cairo_t* cairo, const PageBox& box, const SpotMap& spots, Millimetres rim_band);

}  // namespace corefleck
