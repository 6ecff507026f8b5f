#pragma once

#include "candidates.hpp"

namespace corefleck {

/// Share of the face, lost at the rim, that is said: more than chips that the drill leaves.
inline constexpr double kBrokenOff = 0.005;

/// CV_8UC1 on the cells of `face`: 255 where the rim is broken off and shows the rough dark fracture below
/// the face: dark places that, a little closed, join to one of several square millimetres at the rim band.
[[nodiscard]] cv::Mat broken_rim(const CoarseFace& face, double mottle_rel);

}  // namespace corefleck
