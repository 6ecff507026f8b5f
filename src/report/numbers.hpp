#pragma once

#include "face_frame.hpp"
#include "lettering.hpp"
#include "number_placement.hpp"
#include "plate_style.hpp"

#include "corefleck/segmentation.hpp"

#include <vector>

namespace corefleck {

/// The spots' numbers, each beside its own.
struct SpotNumbers {
  std::vector<PlacedNumber> placed;
  TextStyle style;
};

/// In the largest letters in which all find room; in the smallest, only those that do, largest spots first.
/// Nothing is drawn: the context tells how wide letters are.
[[nodiscard]] SpotNumbers spot_numbers(cairo_t* cairo, const FaceFrame& frame, const SpotMap& spots);

void draw_numbers(cairo_t* cairo, const SpotNumbers& numbers);

}  // namespace corefleck
