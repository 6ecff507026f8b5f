#pragma once

#include "corefleck/registration.hpp"

#include <vector>

namespace corefleck {

/// A place on the first face and where it was found on the second, mm.
struct PlacePair {
  cv::Point2d first, second;
  double weight = 1.0;
};

/// Least squares rotation and shift, q = R p + t: the two-dimensional case of the orthogonal Procrustes
/// problem [Umeyama1991], whose angle is atan2 of the cross over the dot products about the centres of
/// gravity. Two places or more.
[[nodiscard]] FaceTransform rigid_fit(const std::vector<PlacePair>& pairs);

/// Least squares affine map. Three places or more that do not lie on a line; else the rigid fit.
[[nodiscard]] FaceTransform affine_fit(const std::vector<PlacePair>& pairs);

/// Least squares projective map, linear in its eight numbers (direct linear transform). Weighs places by
/// their nearness, which differs by less than a per cent here. Many more than four places, spread over the
/// face.
[[nodiscard]] FaceTransform projective_fit(const std::vector<PlacePair>& pairs);

[[nodiscard]] double distance_mm(const FaceTransform& transform, const PlacePair& pair);

}  // namespace corefleck
