#pragma once

#include "corefleck/segmentation.hpp"

#include <opencv2/core.hpp>

#include <optional>
#include <vector>

namespace corefleck {

/// What a spot's own boundary is found in.
struct ContrastField {
  const cv::Mat& contrast;  ///< CV_32FC1, Y / B - 1, smoothed
  const cv::Mat& blocked;   ///< CV_8UC1, nonzero: not to be entered (outside, glare, other spots)
  const cv::Mat& busy;      ///< CV_8UC1, nonzero: not matrix (other candidates, pits), left out of the ground
  double sigma_px;          ///< of all blur in `contrast`
  double pitch_mm;
  int largest_px;         ///< a region that reaches further than this from its seed has run away
  float hopeless = 0.0F;  ///< a region that is no higher than this at first is not followed any closer
};

/// A region at half the contrast between the matrix around it and its own plateau.
struct HalfContrastRegion {
  cv::Rect box;                         ///< of `mask`
  cv::Mat mask;                         ///< CV_8UC1
  float plateau, ground, threshold;     ///< relative contrast
  double spread_inside, spread_ground;  ///< robust deviations
  int ground_px;
};

/// Fixed point of threshold = (ground + plateau) / 2 around a seed pixel; empty when the region runs away or
/// vanishes.
[[nodiscard]] std::optional<HalfContrastRegion> half_contrast_region(const ContrastField& field,
                                                                     cv::Point seed,
                                                                     float start_threshold);

/// True radius of a disc whose blurred image was measured at half its apparent contrast with radius
/// `measured_px`.
[[nodiscard]] double deblurred_radius(double measured_px, double sigma_px);

}  // namespace corefleck
