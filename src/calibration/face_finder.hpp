#pragma once

#include "overview.hpp"

#include "corefleck/calibration.hpp"

#include <vector>

namespace corefleck {

/// The face in the photo: an ellipse and the points of the rim that it was fitted to, photo pixels.
struct FoundFace {
  FaceEllipse ellipse;
  std::vector<cv::Point2d> rim;
};

/// Fails with face_not_found or face_ambiguous.
[[nodiscard]] Result<FoundFace> find_face(const Photo& photo,
                                          const Overview& overview,
                                          const std::optional<PixelCircle>& by_hand);

}  // namespace corefleck
