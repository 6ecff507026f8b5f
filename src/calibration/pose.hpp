#pragma once

#include "face_finder.hpp"
#include "grey_card.hpp"
#include "scale_bar.hpp"

#include <opencv2/core.hpp>

#include <vector>

namespace corefleck {

/// The camera over the face, and the circle that the rim is.
struct FittedPose {
  Pose pose;
  double radius_mm;
  double radius_u_mm;
  double bar_scatter_px;  ///< of the block edges about equal spacing in the plane
  double off_round;       ///< second harmonic of a rim that is seen all around, in its standard deviations
  cv::Point2d
      centre_px;  ///< image of the circle's centre; not the ellipse's centre when the camera is tilted
};

/// Tilt, focal length, the lens's bend and scale that make the rim a circle, the block edges equally spaced
/// and the card's sides parallel and square at once; weighted least squares with weak prior knowledge, so
/// that each adds what it knows.
[[nodiscard]] FittedPose fit_pose(const Photo& photo,
                                  const FoundFace& face,
                                  const FoundBar& bar,
                                  const FoundCard* card,
                                  const CalibrationSettings& settings);

}  // namespace corefleck
