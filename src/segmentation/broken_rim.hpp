#pragma once

#include "candidates.hpp"

namespace corefleck {

/// Share of the face, lost at the rim, that is said: more than chips that the drill leaves.
inline constexpr double kBrokenOff = 0.005;

/// CV_8UC1 on the cells of `face`: 255 where the rim is broken off and shows the fracture below the face, or
/// the bench beyond it: places at the rim band that, a little closed, join to one of several square
/// millimetres and are darker than the face, lighter with an inner edge too straight for a spot, or both by
/// turns.
[[nodiscard]] cv::Mat broken_rim(const CoarseFace& face, double mottle_rel);

}  // namespace corefleck
