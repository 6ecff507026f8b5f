#pragma once

#include <opencv2/core.hpp>

#include <string>

namespace corefleck {

/// A picture for looking at: baseline JPEG of CV_8UC4 pixels (blue, green, red, unused). Empty if it cannot
/// be made.
[[nodiscard]] std::string jpeg_of(const cv::Mat& pixels, int quality);

}  // namespace corefleck
