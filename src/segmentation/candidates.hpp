#pragma once

#include "half_contrast.hpp"

#include <vector>

namespace corefleck {

/// What is asked of a light region before it is a spot.
struct DetectionRule {
  float low;             ///< relative contrast from which a region is looked at
  double least_area_px;  ///< smaller regions are not reported
  double noise_rel;      ///< deviation of the smoothed contrast on the matrix, at the scale of pixels
  double mottle_rel;     ///< the same at the scale of the smallest spot
};

struct Found {
  HalfContrastRegion region;
  double edge_gradient;  ///< mean slope of contrast across the outline, per pixel
};

/// Weber contrast that a region must at least have, whatever its surroundings, at that mottle.
[[nodiscard]] double least_detectable(double mottle_rel);

/// Light regions above the rule, each at its own half contrast, strongest first.
[[nodiscard]] std::vector<Found> light_regions(const cv::Mat& contrast,
                                               const cv::Mat& blocked,
                                               const cv::Mat& dark,
                                               double sigma_px,
                                               double pitch_mm,
                                               const DetectionRule& rule);

}  // namespace corefleck
