#pragma once

#include "rim_curve.hpp"

namespace corefleck {

/// A round thing on the overview.
struct RoundThing {
  cv::Point2d centre;
  double radius;
};

/// Whether a round thing is the outer or the inner edge of a ring, such as a roll of tape: there is another
/// round edge about its middle, and within the inner one the bench shows that lies beyond the outer one. The
/// face of a core is a disc.
///   tone  a map of the overview on which rims are steps, CV_32FC1
///   like  how rims are searched on it
///   rgb   of the overview, CV_32FC3
[[nodiscard]] bool is_ring(const RoundThing& thing,
                           const cv::Mat& tone,
                           const RimSearch& like,
                           const cv::Mat& rgb);

}  // namespace corefleck
