#pragma once

#include "corefleck/comparison.hpp"

#include <optional>

namespace corefleck {

/// Two photos seen as blurred as each other, so that their light can be held against each other. Standard
/// deviations of Gaussians, mm.
struct EqualBlur {
  double common_mm;                  ///< of both, once blurred further
  double to_first_mm, to_second_mm;  ///< what is added to each photo's own
};
/// A step of the coarser colour more than the blurrier photo has, so that both are sums over pixels.
[[nodiscard]] EqualBlur equal_blur(const FaceToCompare& first, const FaceToCompare& second);

/// Luminance at a place of the photo's own face, seen through a Gaussian; nothing where the place itself is
/// not measured.
[[nodiscard]] std::optional<double> light_at(const FaceToCompare& photo,
                                             const cv::Point2d& mm,
                                             double sigma_mm);

}  // namespace corefleck
