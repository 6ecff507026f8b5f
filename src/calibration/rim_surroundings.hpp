#pragma once

#include "corefleck/calibration.hpp"

namespace corefleck {

/// What lies on both sides of the curve that was taken for the rim, shares of the whole turn.
struct RimSurroundings {
  double ring;     ///< where a ring inside the curve is unlike the face farther in: a bevel, or a shadow
  double no_step;  ///< where what lies beyond the curve is as light as what lies inside it
};

/// Looks along the face's rim in the photo; the pose says where.
[[nodiscard]] RimSurroundings look_along_rim(const Photo& photo, const Pose& pose, Millimetres radius);

}  // namespace corefleck
