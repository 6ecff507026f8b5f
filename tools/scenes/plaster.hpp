#pragma once

#include "random.hpp"
#include "style.hpp"

#include <opencv2/core.hpp>

namespace scenes {

/// Relative mottle over the face's square, mean 0 and the style's rms inside the circle; a coarse map to be
/// read bilinearly, since no mottle is finer than about a millimetre.
struct MottleMap {
  cv::Mat1f relative;
  float px_per_mm, origin;
};
[[nodiscard]] MottleMap draw_mottle(const PlasterStyle& style, double radius_mm, Random random);

/// Sand grains and the finest tooth of the surface, as a factor per texel.
[[nodiscard]] cv::Mat1f draw_grain(const PlasterStyle& style, int side, double px_per_mm, Random random);

}  // namespace scenes
