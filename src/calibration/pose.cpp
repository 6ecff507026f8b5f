#include "pose.hpp"

#include "plane_view.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace corefleck {
namespace {

// Standard deviations of what is assumed about the objects; common practice, no source.
constexpr double kRoundness = 0.0008;       // second harmonic of a drilled core's radius, relative
constexpr double kCardSquareness = 0.0025;  // rad, between the sides of a cut card
constexpr double kTiltPrior_rad = 0.10;     // a photographer looks straight down within a few degrees
constexpr double kFocalPriorExif = 0.06;  // of the logarithm: rounding of the tag, cropping by stabilisation
constexpr double kFocalPriorNone = 0.5;
constexpr double kFocal35_mm = 48.0;  // between a phone's wide lens of 26 and a macro lens of 90
// What block edges are off by in general, and how many residuals that knowledge is worth. The three terms of
// a bar seen in perspective leave four edges a single residual, which says next to nothing about their
// errors.
constexpr double kUsualEdge_px = 0.2, kUsualEdgeWorth = 3.0;

// Deviations at which evidence that disagrees has lost much of its force.
constexpr double kFade = 3.0;
// A side whose points scatter more than those of a cut edge lies on something else in part: the directions of
// 2,088 sides of rendered cards were off by what their scatter says below this, by some five times of it at
// twice this.
constexpr double kStraightSide_rad = 0.0005;
// Where a rim is not seen all around, some of its points are of another curve: what that adds to the second
// harmonic, relative, grows with the cube of the share that is not seen (532 rendered rims).
constexpr double kBrokenRim = 0.02;
constexpr double kNearlyWhole = 0.1;

/// Means of so many neighbouring rim points: as good as all of them for five harmonics, and a fraction of the
/// work.
constexpr std::size_t kRimPoints = 120;

std::vector<cv::Point2d> thinned(const std::vector<cv::Point2d>& rim) {
  const std::size_t group = std::max<std::size_t>(1, rim.size() / kRimPoints);
  std::vector<cv::Point2d> means;
  for (std::size_t i = 0; i + group <= rim.size(); i += group) {
    cv::Point2d sum(0.0, 0.0);
    for (std::size_t k = i; k < i + group; ++k) sum += rim[k];
    means.push_back(sum / static_cast<double>(group));
  }
  return means;
}

double edge_deviation_px(const FoundBar& bar) {
  const double free = std::max(0.0, static_cast<double>(bar.points.size()) - 3.0);
  return std::sqrt(
      (free * std::pow(bar.bar.residual_px, 2.0) + kUsualEdgeWorth * std::pow(kUsualEdge_px, 2.0)) /
      (free + kUsualEdgeWorth));
}

struct Evidence {
  const FoundFace& face;
  std::vector<cv::Point2d> rim;  ///< thinned
  const FoundBar& bar;
  const FoundCard* card;
  cv::Point2d principal, anchor;
  double focal_prior, focal_prior_u;
  double rim_missing;  ///< share of the rim that was not seen
  double roundness_u, edge_u;
};

// Beyond a few deviations a piece of evidence is another thing than it was taken for (a side of a holder, a
// shadow's end): its force fades, so that it cannot outvote what agrees.
double faded(double z) { return z / std::sqrt(1.0 + z * z / (kFade * kFade)); }

/// A side's direction in the plane, turned back by its quarter turns around the card, and its deviation.
struct SideTurn {
  double angle, u;
};

// The card's turn in the plane: of the turns that start at one of its sides, the one that most sides agree
// on.
double card_turn(const std::vector<SideTurn>& sides) {
  double best = sides.front().angle, least = std::numeric_limits<double>::infinity();
  for (const SideTurn& start : sides) {
    double turn = start.angle;
    for (int pass = 0; pass < 12; ++pass) {
      double weights = 0.0, sum = 0.0;
      for (const SideTurn& side : sides) {
        const double off = std::remainder(side.angle - turn, CV_PI), z = off / side.u;
        const double weight = std::pow(side.u * (1.0 + z * z / (kFade * kFade)), -2.0);
        weights += weight;
        sum += weight * off;
      }
      turn += sum / weights;
    }
    double cost = 0.0;
    for (const SideTurn& side : sides)
      cost += std::pow(faded(std::remainder(side.angle - turn, CV_PI) / side.u), 2.0);
    if (cost < least) best = turn, least = cost;
  }
  return best;
}

// All sides against one turn of the card: a side that is none then spoils one residual instead of each
// pair's.
void card_residuals(const PlaneView& view, const FoundCard& card, std::vector<double>& residuals) {
  std::vector<SideTurn> sides;
  for (std::size_t i = 0; i < 4; ++i) {
    if (!card.sides[i]) continue;
    const Eigen::Vector2d way = view.plane(card.sides[i]->to) - view.plane(card.sides[i]->from);
    const double scatter = card.sides[i]->direction_u_rad;
    sides.push_back(
        {std::atan2(way.y(), way.x()) - static_cast<double>(i) * CV_PI / 2.0,
         std::hypot(kCardSquareness / std::sqrt(2.0), scatter * (1.0 + scatter / kStraightSide_rad))});
  }
  if (sides.size() < 2) return;
  const double turn = card_turn(sides);
  for (const SideTurn& side : sides)
    residuals.push_back(faded(std::remainder(side.angle - turn, CV_PI) / side.u));
}

std::vector<double> residuals_of(const Camera& camera, const Evidence& evidence) {
  const PlaneView view(camera, evidence.principal, evidence.anchor);
  std::vector<double> residuals;
  const Circle circle = fit_circle(view, evidence.rim);
  // A rim seen all around is no other curve, whatever the card says; the less is seen, the sooner it may be.
  const double off_round = std::hypot(circle.cos2, circle.sin2) / evidence.roundness_u;
  const double faded_u = evidence.roundness_u * std::hypot(1.0, off_round * evidence.rim_missing);
  residuals.push_back(circle.cos2 / faded_u);
  residuals.push_back(circle.sin2 / faded_u);
  for (const double r : fit_spacing(view, evidence.bar).residuals) residuals.push_back(r / evidence.edge_u);
  if (evidence.card != nullptr) card_residuals(view, *evidence.card, residuals);
  residuals.push_back(camera.tilt_x / kTiltPrior_rad);
  residuals.push_back(camera.tilt_y / kTiltPrior_rad);
  residuals.push_back((camera.log_focal - evidence.focal_prior) / evidence.focal_prior_u);
  return residuals;
}

double sum_of_squares(const std::vector<double>& residuals) {
  double sum = 0.0;
  for (const double r : residuals) sum += r * r;
  return sum;
}

Camera moved(const Camera& c, const Eigen::Vector3d& d) {
  return {c.tilt_x + d[0], c.tilt_y + d[1], c.log_focal + d[2]};
}

struct Solution {
  Camera camera;
  Eigen::Matrix3d covariance;
  double cost;
};

Eigen::Matrix3d normal_matrix(const Camera& camera,
                              const Evidence& evidence,
                              const std::vector<double>& at,
                              Eigen::Vector3d& gradient) {
  constexpr double kStep = 1e-5;
  Eigen::MatrixXd jacobian(static_cast<Eigen::Index>(at.size()), 3);
  for (int j = 0; j < 3; ++j) {
    Eigen::Vector3d d = Eigen::Vector3d::Zero();
    d[j] = kStep;
    const std::vector<double> next = residuals_of(moved(camera, d), evidence);
    for (std::size_t i = 0; i < at.size(); ++i)
      jacobian(static_cast<Eigen::Index>(i), j) = (next[i] - at[i]) / kStep;
  }
  gradient = jacobian.transpose() *
             Eigen::Map<const Eigen::VectorXd>(at.data(), static_cast<Eigen::Index>(at.size()));
  return jacobian.transpose() * jacobian;
}

// Levenberg-Marquardt from one start.
Solution solve_from(Camera camera, const Evidence& evidence) {
  std::vector<double> at = residuals_of(camera, evidence);
  double cost = sum_of_squares(at), damping = 1e-3;
  Eigen::Vector3d gradient;
  Eigen::Matrix3d normal = normal_matrix(camera, evidence, at, gradient);
  for (int step = 0; step < 40; ++step) {
    Eigen::Matrix3d damped = normal;
    damped.diagonal() *= 1.0 + damping;
    const Camera trial = moved(camera, -damped.ldlt().solve(gradient));
    const std::vector<double> trial_at = residuals_of(trial, evidence);
    const double trial_cost = sum_of_squares(trial_at);
    if (!std::isfinite(trial_cost) || trial_cost >= cost) {
      damping *= 8.0;
      if (damping > 1e8) break;
      continue;
    }
    const bool settled = cost - trial_cost < 1e-9 * cost;
    camera = trial;
    at = trial_at;
    cost = trial_cost;
    damping = std::max(damping / 5.0, 1e-9);
    normal = normal_matrix(camera, evidence, at, gradient);
    if (settled) break;
  }
  return {camera, normal.inverse(), cost};
}

// A circle leaves two tilts, mirror images, and a side or a rim that is none a minimum of its own: besides
// both tilts, what each of rim and card says without the other is a start.
Solution solve(const Evidence& evidence) {
  const FaceEllipse& ellipse = evidence.face.ellipse;
  const double tilt = std::acos(std::clamp(ellipse.semi_minor / ellipse.semi_major, 0.9, 1.0));
  const double toward = ellipse.angle_rad + CV_PI / 2.0;
  std::vector<Camera> starts;
  for (const double sign : {0.0, 1.0, -1.0})
    starts.push_back({sign * tilt * std::cos(toward), sign * tilt * std::sin(toward), evidence.focal_prior});
  if (evidence.card != nullptr) {
    Evidence rim_alone = evidence, card_alone = evidence;
    rim_alone.card = nullptr;
    card_alone.roundness_u *= 1000.0;
    for (const Evidence* part : {&rim_alone, &card_alone})
      for (int i = 0; i < 3; ++i)
        starts.push_back(solve_from(starts[static_cast<std::size_t>(i)], *part).camera);
  }
  Solution best{{}, {}, std::numeric_limits<double>::infinity()};
  for (const Camera& start : starts) {
    const Solution solution = solve_from(start, evidence);
    if (solution.cost < best.cost) best = solution;
  }
  return best;
}

struct Scale {
  double mm_per_px, pitch_u_rel;
  double bar_scatter_px;
  Circle circle;
  double depth;  ///< of the circle's centre, in units of the anchor's depth
  double mm_per_depth;
};

Scale scale_of(const Camera& camera, const Evidence& evidence, double block_mm) {
  const PlaneView view(camera, evidence.principal, evidence.anchor);
  const Spacing spacing = fit_spacing(view, evidence.bar);
  Scale scale{};
  scale.circle = fit_circle(view, evidence.rim);
  scale.mm_per_depth = block_mm / spacing.pitch;
  scale.depth = view.space({scale.circle.x, scale.circle.y}).z();
  scale.mm_per_px = scale.mm_per_depth * scale.depth / view.focal();
  scale.pitch_u_rel = spacing.u_rel;
  scale.bar_scatter_px = spacing.scatter_px;
  return scale;
}

// What the uncertain tilt and focal length do to the scale at the face, through the covariance of the fit.
double pose_u_rel(const Solution& solution, const Evidence& evidence, double block_mm, double scale_at) {
  Eigen::Vector3d slope;
  for (int j = 0; j < 3; ++j) {
    Eigen::Vector3d d = Eigen::Vector3d::Zero();
    d[j] = 1e-4;
    slope[j] =
        (std::log(scale_of(moved(solution.camera, d), evidence, block_mm).mm_per_px) - std::log(scale_at)) /
        1e-4;
  }
  return std::sqrt(std::max(0.0, slope.dot(solution.covariance * slope)));
}

cv::Matx33d homography(const PlaneView& view, const Scale& scale, cv::Point2d principal) {
  const Eigen::Vector3d centre = view.space({scale.circle.x, scale.circle.y}) * scale.mm_per_depth;
  const Eigen::Vector3d up = -view.down();
  const auto& right = view.right();
  const cv::Matx33d plane(
      right.x(), up.x(), centre.x(), right.y(), up.y(), centre.y(), right.z(), up.z(), centre.z());
  const cv::Matx33d camera(view.focal(), 0, principal.x, 0, view.focal(), principal.y, 0, 0, 1);
  return camera * plane;
}

Evidence gather(const Photo& photo, const FoundFace& face, const FoundBar& bar, const FoundCard* card) {
  const double diagonal = std::hypot(photo.width_px(), photo.height_px());
  const auto& exif = photo.camera.focal_length_35mm_mm;
  const bool known = exif && *exif > 8.0 && *exif < 1200.0;
  const double focal = (known ? *exif : kFocal35_mm) * diagonal / 43.27;  // the diagonal of 36 x 24 mm film
  const double pitch_px = cv::norm(bar.points.back() - bar.points.front()) /
                          std::max(1, bar.indices.back() - bar.indices.front());
  const double rim_noise = face.ellipse.residual_px / face.ellipse.semi_major * 2.0 /
                           std::sqrt(std::max(20.0, static_cast<double>(face.rim.size()) / 8.0));
  const double missing = std::clamp(1.0 - 0.01 * face.ellipse.rim_found_pct, 0.0, 1.0);
  return {face,
          thinned(face.rim),
          bar,
          card,
          {0.5 * (photo.width_px() - 1), 0.5 * (photo.height_px() - 1)},
          {face.ellipse.x, face.ellipse.y},
          std::log(focal),
          known ? kFocalPriorExif : kFocalPriorNone,
          missing,
          std::hypot(kRoundness, rim_noise, kBrokenRim * std::pow(missing, 3.0)),
          edge_deviation_px(bar) / pitch_px};
}

void add_scale_components(Pose& pose,
                          double edges_u,
                          double pose_u,
                          const Photo& photo,
                          const CalibrationSettings& settings,
                          double distance_mm) {
  const auto add = [&](std::string name, double u_rel, std::string origin) {
    pose.scale_components.push_back(
        {std::move(name), 100.0 * u_rel, "%", 1.0, 100.0 * u_rel, std::move(origin)});
    pose.scale_u_rel = std::hypot(pose.scale_u_rel, u_rel);
  };
  add("bar edges", edges_u, "scatter of the block edges about equal spacing");
  add("tilt and focal length",
      pose_u,
      photo.camera.focal_length_35mm_mm ? "covariance of the pose fit, focal length from EXIF"
                                        : "covariance of the pose fit, focal length assumed");
  add("bar length",
      0.01 * settings.bar_tolerance_pct / std::sqrt(3.0),
      "stated tolerance, equal probability");
  add("bar height",
      settings.bar_height.number() / distance_mm / std::sqrt(3.0),
      "stated height over the camera's distance, equal probability");
}

}  // namespace

FittedPose fit_pose(const Photo& photo,
                    const FoundFace& face,
                    const FoundBar& bar,
                    const FoundCard* card,
                    const CalibrationSettings& settings) {
  const Evidence evidence = gather(photo, face, bar, card);
  const double block_mm = settings.bar_length.number() / settings.bar_blocks;
  const Solution solution = solve(evidence);
  const Scale scale = scale_of(solution.camera, evidence, block_mm);
  const PlaneView view(solution.camera, evidence.principal, evidence.anchor);

  FittedPose fitted{};
  Pose& pose = fitted.pose;
  pose.tilt_deg = std::hypot(solution.camera.tilt_x, solution.camera.tilt_y) * 180.0 / CV_PI;
  pose.tilt_u_deg = std::sqrt(0.5 * (solution.covariance(0, 0) + solution.covariance(1, 1))) * 180.0 / CV_PI;
  pose.tilt_toward_rad = std::atan2(solution.camera.tilt_y, solution.camera.tilt_x);
  pose.focal_px = view.focal();
  pose.focal_source = evidence.focal_prior_u == kFocalPriorExif ? "EXIF" : "assumed";
  pose.scale = MmPerPx{scale.mm_per_px};
  add_scale_components(pose,
                       scale.pitch_u_rel,
                       pose_u_rel(solution, evidence, block_mm, scale.mm_per_px),
                       photo,
                       settings,
                       scale.mm_per_depth);
  pose.mm_to_px = homography(view, scale, evidence.principal);
  fitted.radius_mm = scale.circle.r * scale.mm_per_depth;
  const double rim_u =
      scale.circle.deviation / std::sqrt(std::max(4.0, 0.5 * static_cast<double>(evidence.rim.size())));
  fitted.radius_u_mm = fitted.radius_mm * std::hypot(pose.scale_u_rel, rim_u);
  fitted.bar_scatter_px = scale.bar_scatter_px;
  fitted.off_round = evidence.rim_missing < kNearlyWhole
                         ? std::hypot(scale.circle.cos2, scale.circle.sin2) / evidence.roundness_u
                         : 0.0;
  fitted.centre_px = view.pixel({scale.circle.x, scale.circle.y});
  return fitted;
}

}  // namespace corefleck
