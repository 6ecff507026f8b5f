#pragma once

#include <opencv2/core.hpp>

namespace corefleck {

/// What is followed in the photo: luminance, or the logarithm of a ratio of channels where colour parts the
/// face from the bench better than lightness does.
struct RimChannel {
  bool colour = false;
  cv::Vec3f log_weights;  ///< of R, G, B; they add to 0
};

}  // namespace corefleck
