#pragma once

#include "overview.hpp"

#include "corefleck/calibration.hpp"

#include <opencv2/core.hpp>

#include <vector>

namespace corefleck {

/// A flat rectangular area, overview pixels.
struct CardCandidate {
  cv::RotatedRect box;
  double fill;                  ///< share of the box that the area fills
  std::array<double, 3> level;  ///< median linear sRGB
};

/// Flat rectangles outside `hidden` with sides of at least `min_side` overview pixels.
[[nodiscard]] std::vector<CardCandidate> card_candidates(const Overview& overview,
                                                         const cv::Mat& hidden,
                                                         double min_side);

}  // namespace corefleck
