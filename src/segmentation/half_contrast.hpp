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
  const cv::Mat& busy;  ///< CV_8UC1, nonzero: not matrix (other candidates, pits), left out of the ground;
                        ///< may be empty where the ground is known
  double sigma_px;      ///< of all blur in `contrast`
  double pitch_mm;
  int largest_px;          ///< a region that reaches further than this from its seed has run away
  float hopeless = 0.0F;   ///< a region that is no higher than this at first is not followed any closer
  float settled = 0.004F;  ///< change of the threshold, as a share of the height, that ends the search
};

/// The matrix around a region.
struct RingOfMatrix {
  float level;    ///< relative contrast
  double spread;  ///< robust deviation
  int count_px;
};

/// A region at half the contrast between the matrix around it and its own plateau.
struct HalfContrastRegion {
  cv::Rect box;                         ///< of `mask`
  cv::Mat mask;                         ///< CV_8UC1
  float plateau, ground, threshold;     ///< relative contrast
  double spread_inside, spread_ground;  ///< robust deviations
  int ground_px;
  cv::Rect read;  ///< holds every pixel of the field that the answer rests on
};

/// Fixed point of threshold = (ground + plateau) / 2 around a seed pixel; empty when the region runs away or
/// vanishes. The ground is measured about the region, unless it is known.
[[nodiscard]] std::optional<HalfContrastRegion> half_contrast_region(const ContrastField& field,
                                                                     cv::Point seed,
                                                                     float start_threshold,
                                                                     const RingOfMatrix* known = nullptr);

/// Pixels deeper in a region than half its greatest depth, which tell its plateau; from the mask's corner on.
[[nodiscard]] std::vector<cv::Point> deep_pixels(const cv::Mat& mask);

}  // namespace corefleck
