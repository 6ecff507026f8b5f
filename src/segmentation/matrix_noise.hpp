#pragma once

#include "local_contrast.hpp"

namespace corefleck {

/// Relative deviations of the matrix about its level nearby, from its darker side, which spots do not reach.
struct MatrixNoise {
  double pixel;       ///< of single pixels about means over a small spot
  double small_spot;  ///< of means over a small spot about those over its surroundings
};

/// `coarse`: contrast of the same face on cells of factor pixels; `blocked`: its cells that are left out.
[[nodiscard]] MatrixNoise matrix_noise(
    const LocalContrast& contrast, const cv::Mat& coarse, const cv::Mat& blocked, int factor, double spot_px);

}  // namespace corefleck
