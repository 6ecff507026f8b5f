#pragma once

#include "corefleck/segmentation.hpp"

#include <optional>

namespace corefleck {

/// Where an outline goes in from both sides: two spots may be joined there.
struct Waist {
  cv::Point2d from, to;     ///< ends of the cut, on the outline
  std::size_t first, last;  ///< their places in the outline; the points between them bound one part
  double breadth;           ///< length of the cut over the width of the lesser part, as a disc of its area
  double lesser_px;         ///< area of the lesser part
};

/// The most marked waist; nothing where the outline bulges outwards but for dents on one side.
[[nodiscard]] std::optional<Waist> waist_of(const Contour& outline);

/// The lesser of the plateaus on both sides of a waist, and the mean along the middle of the cut.
struct Relief {
  double plateau, saddle;
};

/// `contrast`, `one` and `other` (the pixels of both sides) share their corner, which is the origin of the
/// outline's coordinates less `corner`.
[[nodiscard]] Relief relief_at(const Waist& waist,
                               const cv::Point2d& corner,
                               const cv::Mat& contrast,
                               const cv::Mat& one,
                               const cv::Mat& other);

}  // namespace corefleck
