#pragma once

#include <opencv2/core.hpp>

#include <vector>

namespace corefleck {

struct CircleCandidate {
  double x, y, r;
  double votes;  ///< share of the circumference that voted, about 0 to 1
};

/// Circles whose edges point at one centre: gradient votes in (x, y, r). `tone` CV_32FC1; radii from min_r to
/// max_r px. Best first, none inside another's neighbourhood.
[[nodiscard]] std::vector<CircleCandidate> circle_candidates(const cv::Mat& tone,
                                                             double min_r,
                                                             double max_r,
                                                             int count);

}  // namespace corefleck
