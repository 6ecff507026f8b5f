#pragma once

#include <opencv2/core.hpp>

#include <vector>

namespace corefleck {

/// A straight piece of an edge between a lighter and a darker side.
struct EdgePiece {
  cv::Point2d middle;
  cv::Point2d normal;  ///< unit, towards the lighter side
  double length;
};

/// Straight edge pieces of a CV_32FC1 image whose gradient is at least `least_gradient` a pixel, in the order
/// of their first pixels. `hidden` (CV_8UC1, same size) is left out.
[[nodiscard]] std::vector<EdgePiece> edge_pieces(const cv::Mat& image,
                                                 const cv::Mat& hidden,
                                                 float least_gradient,
                                                 double least_length);

}  // namespace corefleck
