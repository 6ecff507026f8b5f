#pragma once

#include <opencv2/core.hpp>

namespace corefleck {

/// Parts a region where its neck is narrower than half of the lesser part's breadth. Labels 1, 2, ... in a
/// CV_32SC1 map of the mask's size, 0 outside; 1 throughout when there is nothing to part. Parts of fewer
/// than `least_px` pixels stay joined.
[[nodiscard]] cv::Mat part_at_necks(const cv::Mat& mask, double least_px, int& parts);

}  // namespace corefleck
