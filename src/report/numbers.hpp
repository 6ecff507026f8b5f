#pragma once

#include "face_frame.hpp"
#include "plate_style.hpp"

#include "corefleck/segmentation.hpp"

namespace corefleck {

/// Writes each spot's number beside it, in the largest letters in which all find room; in the smallest, only
/// those that do, largest spots first. Gives back how many were written.
int draw_numbers(cairo_t* cairo, const FaceFrame& frame, const SpotMap& spots);

}  // namespace corefleck
