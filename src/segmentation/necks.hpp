#pragma once

#include <opencv2/core.hpp>

#include <vector>

namespace corefleck {

struct Parts {
  cv::Mat labels;  ///< CV_32SC1 of the mask's size: 1, 2, ... for the parts, 0 outside
  std::vector<double>
      doubt_px;  ///< by part: pixels of a neighbour that perhaps belong to it, or of it that do not
};

/// Parts a region where its neck is much narrower than the breadth of the lesser part. Parts of fewer than
/// `least_px` pixels stay joined.
[[nodiscard]] Parts part_at_necks(const cv::Mat& mask, double least_px);

}  // namespace corefleck
