#include "pose.hpp"

#include "object_spreads.hpp"
#include "plane_view.hpp"
#include "pose_evidence.hpp"
#include "pose_solver.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kNearlyWhole = 0.1;  // share of a rim from which on it tells whether it is round

double block_of(const CalibrationSettings& settings) {
  return settings.bar_length.number() / settings.bar_blocks;
}

struct Scale {
  double mm_per_px, pitch_u_rel;
  double bar_scatter_px;
  Circle circle;
  cv::Point2d centre_px;  ///< image of the circle's centre
  double depth;           ///< of the circle's centre, in units of the anchor's depth
  double mm_per_depth;
};

Scale scale_of(const Camera& camera, const PoseEvidence& evidence, double block_mm) {
  const PlaneView view(camera, evidence.straight, evidence.anchor);
  const Spacing spacing = fit_spacing(view, evidence.bar);
  Scale scale{};
  scale.circle = fit_circle(view, evidence.rim);
  scale.mm_per_depth = block_mm / spacing.pitch;
  scale.depth = view.space({scale.circle.x, scale.circle.y}).z();
  scale.centre_px = view.pixel({scale.circle.x, scale.circle.y});
  scale.mm_per_px =
      scale.mm_per_depth * scale.depth / view.focal() / view.lens().magnification(scale.centre_px);
  scale.pitch_u_rel = spacing.u_by_edge * evidence.edge_u;
  scale.bar_scatter_px = spacing.scatter_px;
  return scale;
}

/// What the fit leaves open, and what that does to the scale at the face.
struct Open {
  double tilt_u;         ///< rad, of one of its two components
  double pinhole_u_rel;  ///< of the scale, by tilt and focal length, were the bend known
  double bend_u;         ///< of the bend, tilt and focal length being open too
  double
      bend_sensitivity;  ///< relative change of the scale with the bend, tilt and focal length following it
};

// Through the covariance of the fit, parted into that of tilt and focal length given the bend and that of the
// bend: by Schur's complement the two add up to the whole.
Open open_of(const PoseSolution& solution, const PoseEvidence& evidence, double block_mm, double scale_at) {
  constexpr double kStep = 1e-4;
  Step slope;
  for (int j = 0; j < kUnknowns; ++j)
    slope[j] =
        std::log(scale_of(moved(solution.camera, along(j, kStep)), evidence, block_mm).mm_per_px / scale_at) /
        kStep;
  const Normal covariance = solution.normal.inverse();
  const Eigen::Matrix3d given_bend = solution.normal.topLeftCorner<3, 3>().inverse();
  const Eigen::Vector3d pinhole = slope.head<3>();
  return {std::sqrt(0.5 * (covariance(0, 0) + covariance(1, 1))),
          std::sqrt(std::max(0.0, pinhole.dot(given_bend * pinhole))),
          std::sqrt(covariance(3, 3)),
          slope[3] - pinhole.dot(given_bend * solution.normal.topRightCorner<3, 1>())};
}

cv::Matx33d homography(const PlaneView& view, const Scale& scale) {
  const Eigen::Vector3d centre = view.space({scale.circle.x, scale.circle.y}) * scale.mm_per_depth;
  const Eigen::Vector3d up = -view.down();
  const auto& right = view.right();
  const cv::Matx33d plane(
      right.x(), up.x(), centre.x(), right.y(), up.y(), centre.y(), right.z(), up.z(), centre.z());
  const cv::Point2d middle = view.lens().middle;
  const cv::Matx33d camera(view.focal(), 0, middle.x, 0, view.focal(), middle.y, 0, 0, 1);
  return camera * plane;
}

std::vector<UncertaintyComponent> scale_components(const Scale& scale,
                                                   const Open& open,
                                                   const PoseEvidence& evidence,
                                                   const CalibrationSettings& settings) {
  std::vector<UncertaintyComponent> components;
  const auto add = [&](std::string name, double u, double sensitivity, std::string origin) {
    components.push_back(
        {std::move(name), 100.0 * u, "%", sensitivity, 100.0 * u * std::abs(sensitivity), std::move(origin)});
  };
  add("bar edges",
      scale.pitch_u_rel,
      1.0,
      "scatter of the block edges about equal spacing, with what is usual");
  add("tilt and focal length",
      open.pinhole_u_rel,
      1.0,
      evidence.focal_from_exif ? "covariance of the pose fit, focal length from EXIF"
                               : "covariance of the pose fit, focal length assumed");
  add("lens bend",
      open.bend_u,
      open.bend_sensitivity,
      "covariance of the pose fit, at the frame's corner; lens assumed to bend little");
  add("bar length",
      0.01 * settings.bar_tolerance_pct / std::sqrt(3.0),
      1.0,
      "stated tolerance, equal probability");
  add("bar height",
      settings.bar_height.number() / scale.mm_per_depth / std::sqrt(3.0),
      1.0,
      "stated height over the camera's distance, equal probability");
  return components;
}

Pose pose_of(const PoseSolution& solution,
             const Scale& scale,
             const PoseEvidence& evidence,
             const CalibrationSettings& settings) {
  const Camera& camera = solution.camera;
  const PlaneView view(camera, evidence.straight, evidence.anchor);
  const Open open = open_of(solution, evidence, block_of(settings), scale.mm_per_px);
  Pose pose{};
  pose.tilt_deg = std::hypot(camera.tilt_x, camera.tilt_y) * 180.0 / CV_PI;
  pose.tilt_u_deg = open.tilt_u * 180.0 / CV_PI;
  pose.tilt_toward_rad = std::atan2(camera.tilt_y, camera.tilt_x);
  pose.focal_px = view.focal();
  pose.focal_source = evidence.focal_from_exif ? "EXIF" : "assumed";
  pose.lens = view.lens();
  pose.lens_u = open.bend_u;
  pose.scale = MmPerPx{scale.mm_per_px};
  pose.scale_components = scale_components(scale, open, evidence, settings);
  for (const UncertaintyComponent& component : pose.scale_components)
    pose.scale_u_rel = std::hypot(pose.scale_u_rel, 0.01 * component.contribution);
  pose.mm_to_px = homography(view, scale);
  return pose;
}

}  // namespace

FittedPose fit_pose(const Photo& photo,
                    const FoundFace& face,
                    const FoundBar& bar,
                    const FoundCard* card,
                    const CalibrationSettings& settings) {
  PoseEvidence evidence = pose_evidence(photo, face, bar, card, settings);
  PoseSolution solution = solve(evidence);
  const double usual_round_u = evidence.roundness_u();
  settle_spreads(solution, evidence);
  const Scale scale = scale_of(solution.camera, evidence, block_of(settings));

  FittedPose fitted{};
  fitted.pose = pose_of(solution, scale, evidence, settings);
  fitted.radius_mm = scale.circle.r * scale.mm_per_depth;
  const double rim_u =
      scale.circle.deviation / std::sqrt(std::max(4.0, 0.5 * static_cast<double>(evidence.rim.size())));
  fitted.radius_u_mm = fitted.radius_mm * std::hypot(fitted.pose.scale_u_rel, rim_u);
  fitted.bar_scatter_px = scale.bar_scatter_px;
  fitted.off_round = evidence.rim_missing < kNearlyWhole
                         ? std::hypot(scale.circle.cos2, scale.circle.sin2) / usual_round_u
                         : 0.0;
  fitted.centre_px = scale.centre_px;
  return fitted;
}

}  // namespace corefleck
