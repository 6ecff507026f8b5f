#pragma once

#include "scale_bar.hpp"
#include "strip_light.hpp"

#include <array>

namespace corefleck {

/// What tells blocks from print, stripes and grain with edges at the same places.
struct BarPattern {
  double low, high;  ///< across the axis, where the pattern begins and ends, pixels of the image looked at
  bool bounded;      ///< it does end on both sides
  std::array<bool, 2> goes_on;  ///< before the first and after the last edge: another block's length of the
                                ///< tone that would follow
  std::array<double, 2> tone_off;  ///< how far that tone is from the one that would follow, over their step
  bool on_strip;                   ///< what goes on at both ends goes on beside the blocks too: the strip
  double tone_scatter;  ///< of the blocks about two tones under smoothly changing light, over their step
  double raggedness;    ///< change of the blocks' levels across the axis, over their step
};

/// The pattern between the edges of a bar that was located in the pixels of `light`.
[[nodiscard]] BarPattern bar_pattern(const StripLight& light, const FoundBar& found);

}  // namespace corefleck
