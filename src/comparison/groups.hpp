#pragma once

#include "corefleck/comparison.hpp"

namespace corefleck {

/// Spots of one photo taken together.
struct SpotSum {
  double area_mm2 = 0.0;
  double boundary_u_mm2 = 0.0;  ///< standard uncertainty without the scale's share
  cv::Point2d centre_mm{0.0, 0.0};
};
/// `ids` not empty. In the photo's own millimetres.
[[nodiscard]] SpotSum sum_of(const FaceToCompare& photo, const std::vector<int>& ids);

/// The spot's outline on the other photo's grid.
[[nodiscard]] Contour laid_outline(const Region& spot,
                                   const FaceGrid& from,
                                   const FaceGrid& to,
                                   const FaceTransform& transform);

/// Weber contrast of what lies inside an outline against what lies round it, spots left out; on the grid of
/// the colour, and the same for a spot and for a bare place. Nothing where the place is not measured.
[[nodiscard]] std::optional<double> contrast_inside(const FaceToCompare& photo, const Contour& outline);

}  // namespace corefleck
