#pragma once

#include "colour_step.hpp"
#include "half_contrast.hpp"
#include "spot_rule.hpp"

#include <vector>

namespace corefleck {

/// The face on cells on which the smallest spot is some five cells wide: fine enough to tell spots from
/// mottle, and a fraction of the pixels. Lengths and areas of everything here are in cells.
struct CoarseFace {
  cv::Mat contrast;  ///< CV_32FC1
  CellColour colour;
  cv::Mat blocked;  ///< CV_8UC1, nonzero: not to be entered
  cv::Mat dark;     ///< CV_8UC1, nonzero: not matrix, though not lighter than it either
  double sigma_px;
  double pitch_mm;
};

struct Candidate {
  HalfContrastRegion region;
  cv::Point seed;
  int owner;  ///< its value in CoarseSpots::owner
};

struct CoarseSpots {
  std::vector<Candidate> spots;  ///< strongest first
  cv::Mat owner;  ///< CV_32SC1: which region, spot or not, holds a cell, its flank included; 0 none
  int faint = 0;  ///< regions left out though they are nearly as high as is asked of a spot
  double faint_area = 0.0;
  cv::Mat busy;  ///< CV_8UC1, nonzero: other candidates and dark places, left out of a spot's ground
};

/// Light regions that are spots by the rule, each at its own half contrast.
[[nodiscard]] CoarseSpots find_candidates(const CoarseFace& face, const DetectionRule& rule);

/// Mean slope of the contrast across a region's outline, per pixel.
[[nodiscard]] double slope_at_edge(const cv::Mat& contrast, const HalfContrastRegion& region);

}  // namespace corefleck
