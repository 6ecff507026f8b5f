#pragma once

#include "mottle_population.hpp"

#include <opencv2/core.hpp>

#include <vector>

namespace corefleck {

/// A light region of mottle, and where it lies, in cells.
struct PlacedRegion {
  cv::Point at;
  WeightedRegion region;
};

/// Parts of a face whose mottle is far higher than that of most of it: a fracture, gravel laid bare, a film
/// of water. What mottle reaches there says nothing about the rest of the face.
class RoughGround {
 public:
  RoughGround() = default;  ///< none
  /// free        CV_8UC1, nonzero: cells of the face
  /// least       height from which mottle is looked at: ground without any is no higher
  /// patch_cells side of the squares that are told apart
  RoughGround(const std::vector<PlacedRegion>& mottle, const cv::Mat& free, double least, double patch_cells);

  [[nodiscard]] bool holds(cv::Point at) const;

 private:
  [[nodiscard]] cv::Point patch_of(cv::Point at) const;
  [[nodiscard]] cv::Point middle_of(cv::Point patch, cv::Size face) const;

  double patch_cells_ = 1.0;
  cv::Mat rough_;  // CV_8UC1 by patch; empty where there is none
};

}  // namespace corefleck
