#pragma once

#include "half_contrast.hpp"

#include <opencv2/core.hpp>

namespace corefleck {

/// True area over the area within half contrast of a region that a Gaussian of `sigma_px` blurred.
///   contrast  CV_32FC1, in which the region was found, a few pixels wider than it on each side
///   region    as half_contrast_region gives it; its box in pixels of `contrast`
/// The region's own shape is drawn crisp, blurred and measured in the same way; what that takes off or adds,
/// the photo's blur took off or added too. Blur takes area from any outline, but where it is as wide as the
/// region it lowers the plateau as well, and half of that lies further out. It then rounds long and lobed
/// shapes besides, so that of such a region the crisp shape is sought that looks like it under the blur.
[[nodiscard]] double deblurring_ratio(const cv::Mat& contrast,
                                      const HalfContrastRegion& region,
                                      double sigma_px);

}  // namespace corefleck
