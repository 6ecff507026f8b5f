#include "pose.hpp"

#include "plane_view.hpp"

#include <opencv2/core/utility.hpp>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace corefleck {
namespace {

// Standard deviations of what is assumed about the objects; common practice, no source. How good a core and
// a card are of their kind the photo tells in part: `settle_spreads`.
constexpr double kUnevenWall = 0.0008;      // second harmonic of a drilled core's radius, relative
constexpr double kCardSquareness = 0.0025;  // rad, between the sides of a cut card
// A round core sawn at a slant shows an ellipse: 2 degrees off square make a second harmonic of a quarter of
// their tangent's square, which no other harmonic tells of.
constexpr double kSlantCut = 0.0003;
// How many residuals the two are worth: each is known to half of itself, which by [GUM] G.4.2 is
// 1 / (2 x 0.5^2) degrees of freedom.
constexpr double kUsualObjectWorth = 2.0;
constexpr double kTiltPrior_rad = 0.15;   // a photographer looks straight down within some degrees
constexpr double kFocalPriorExif = 0.06;  // of the logarithm: rounding of the tag, cropping by stabilisation
constexpr double kFocalPriorNone = 0.5;
constexpr double kFocal35_mm = 48.0;  // between a phone's wide lens of 26 and a macro lens of 90
// Bend that the lens leaves in a photo, share at the frame's corner: in pictures as cameras and phones write
// them a few tenths of a per cent are usual, 1 % is much, and wide lenses leave twice that, for whose sake
// this knowledge fades (common practice, no source).
constexpr double kBendPrior = 0.004;
// What block edges are off by in general, and how many residuals that knowledge is worth. The three terms of
// a bar seen in perspective leave four edges a single residual, which says next to nothing about their
// errors.
constexpr double kUsualEdge_px = 0.2, kUsualEdgeWorth = 3.0;
// Beyond the blocks lies something else than a block, a strip with its end or a shadow: first and last edge
// of 159 bars of three renderers were off by twice what the others were, and by four times in one of ten.
constexpr double kEndEdge = 1.8;

// Deviations at which evidence that disagrees has lost much of its force.
constexpr double kFade = 3.0;
// Where a rim is not seen all around, some of its points are of another curve: a shadow's end, texture, a
// crack. An arc that lies off the rim adds in proportion to its share of the turn, and how likely there is
// one grows with the share that is not seen, so that the second harmonic is off by about this times its
// square, relative (126 rendered rims of three renderers that are not seen whole).
constexpr double kBrokenRim = 0.015;
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
  LensBend straight;  ///< the frame, not bent
  cv::Point2d anchor;
  double focal_prior, focal_prior_u;
  double rim_missing;           ///< share of the rim that was not seen
  double rim_else_u;            ///< of the second harmonic, by all but an uneven wall
  double usual_edge;            ///< what block edges are off by in general, in pitches
  double edge_u;                ///< standard deviation of a block edge, in pitches
  double wall_u = kUnevenWall;  ///< of the second harmonic, by an uneven wall
  double square_u = kCardSquareness;
  [[nodiscard]] double roundness_u() const { return std::hypot(wall_u, rim_else_u); }
  [[nodiscard]] double side_u() const { return square_u / std::sqrt(2.0); }
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
void card_residuals(const PlaneView& view,
                    const FoundCard& card,
                    double side_u,
                    std::vector<double>& residuals) {
  std::vector<SideTurn> sides;
  for (std::size_t i = 0; i < 4; ++i) {
    if (!card.sides[i]) continue;
    const Eigen::Vector2d way = view.plane(card.sides[i]->to) - view.plane(card.sides[i]->from);
    sides.push_back({std::atan2(way.y(), way.x()) - static_cast<double>(i) * CV_PI / 2.0,
                     std::hypot(side_u, card.sides[i]->direction_u_rad)});
  }
  if (sides.size() < 2) return;
  const double turn = card_turn(sides);
  for (const SideTurn& side : sides)
    residuals.push_back(faded(std::remainder(side.angle - turn, CV_PI) / side.u));
}

std::vector<double> residuals_of(const Camera& camera, const Evidence& evidence) {
  const PlaneView view(camera, evidence.straight, evidence.anchor);
  std::vector<double> residuals;
  const Circle circle = fit_circle(view, evidence.rim);
  // A rim seen all around is no other curve, whatever the card says; the less is seen, the sooner it may be.
  const double off_round = std::hypot(circle.cos2, circle.sin2) / evidence.roundness_u();
  const double faded_u = evidence.roundness_u() * std::hypot(1.0, off_round * evidence.rim_missing);
  residuals.push_back(circle.cos2 / faded_u);
  residuals.push_back(circle.sin2 / faded_u);
  const std::vector<double> edges = fit_spacing(view, evidence.bar).residuals;
  for (std::size_t i = 0; i < edges.size(); ++i)
    residuals.push_back(edges[i] / (evidence.edge_u * (i == 0 || i + 1 == edges.size() ? kEndEdge : 1.0)));
  if (evidence.card != nullptr) card_residuals(view, *evidence.card, evidence.side_u(), residuals);
  residuals.push_back(camera.tilt_x / kTiltPrior_rad);
  residuals.push_back(camera.tilt_y / kTiltPrior_rad);
  residuals.push_back((camera.log_focal - evidence.focal_prior) / evidence.focal_prior_u);
  residuals.push_back(faded(camera.bend / kBendPrior));
  return residuals;
}

double sum_of_squares(const std::vector<double>& residuals) {
  double sum = 0.0;
  for (const double r : residuals) sum += r * r;
  return sum;
}

constexpr int kUnknowns = 4;
using Step = Eigen::Vector4d;
using Normal = Eigen::Matrix4d;

Camera moved(const Camera& c, const Step& d) {
  return {c.tilt_x + d[0], c.tilt_y + d[1], c.log_focal + d[2], c.bend + d[3]};
}

Step along(int unknown, double step) { return step * Step::Unit(unknown); }

struct Solution {
  Camera camera;
  Normal normal;
  double cost;
};

Eigen::MatrixXd jacobian_of(const Camera& camera, const Evidence& evidence, const std::vector<double>& at) {
  constexpr double kStep = 1e-5;
  Eigen::MatrixXd jacobian(static_cast<Eigen::Index>(at.size()), kUnknowns);
  for (int j = 0; j < kUnknowns; ++j) {
    const std::vector<double> next = residuals_of(moved(camera, along(j, kStep)), evidence);
    for (std::size_t i = 0; i < at.size(); ++i)
      jacobian(static_cast<Eigen::Index>(i), j) = (next[i] - at[i]) / kStep;
  }
  return jacobian;
}

Normal normal_matrix(const Camera& camera,
                     const Evidence& evidence,
                     const std::vector<double>& at,
                     Step& gradient) {
  const Eigen::MatrixXd jacobian = jacobian_of(camera, evidence, at);
  gradient = jacobian.transpose() *
             Eigen::Map<const Eigen::VectorXd>(at.data(), static_cast<Eigen::Index>(at.size()));
  return jacobian.transpose() * jacobian;
}

// Levenberg-Marquardt from one start.
Solution solve_from(Camera camera, const Evidence& evidence) {
  std::vector<double> at = residuals_of(camera, evidence);
  double cost = sum_of_squares(at), damping = 1e-3;
  Step gradient;
  Normal normal = normal_matrix(camera, evidence, at, gradient);
  for (int step = 0; step < 40; ++step) {
    Normal damped = normal;
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
  return {camera, normal, cost};
}

std::vector<Solution> solve_from_each(const std::vector<Camera>& starts, const Evidence& evidence) {
  std::vector<Solution> solutions(starts.size());
  cv::parallel_for_(cv::Range(0, static_cast<int>(starts.size())), [&](const cv::Range& range) {
    for (auto i = static_cast<std::size_t>(range.start); i < static_cast<std::size_t>(range.end); ++i)
      solutions[i] = solve_from(starts[i], evidence);
  });
  return solutions;
}

// A circle leaves two tilts, mirror images, and a side or a rim that is none a minimum of its own: besides
// both tilts, what each of rim and card says without the other is a start.
Solution solve(const Evidence& evidence) {
  const FaceEllipse& ellipse = evidence.face.ellipse;
  const double tilt = std::acos(std::clamp(ellipse.semi_minor / ellipse.semi_major, 0.9, 1.0));
  const double toward = ellipse.angle_rad + CV_PI / 2.0;
  std::vector<Camera> starts;
  for (const double sign : {0.0, 1.0, -1.0})
    starts.push_back(
        {sign * tilt * std::cos(toward), sign * tilt * std::sin(toward), evidence.focal_prior, 0.0});
  if (evidence.card != nullptr) {
    Evidence rim_alone = evidence, card_alone = evidence;
    rim_alone.card = nullptr;
    card_alone.wall_u *= 1000.0;
    std::vector<Camera> both = starts;
    for (const Evidence* part : {&rim_alone, &card_alone})
      for (const Solution& solution : solve_from_each(starts, *part)) both.push_back(solution.camera);
    starts = both;
  }
  Solution best{{}, {}, std::numeric_limits<double>::infinity()};
  for (const Solution& solution : solve_from_each(starts, evidence))
    if (solution.cost < best.cost) best = solution;
  return best;
}

/// Residuals at a fit, and the share of each that the fit takes up.
struct FitResiduals {
  std::vector<double> at;
  std::vector<double> taken;
};

FitResiduals residuals_at(const Solution& solution, const Evidence& evidence) {
  FitResiduals all{residuals_of(solution.camera, evidence), {}};
  const Eigen::MatrixXd jacobian = jacobian_of(solution.camera, evidence, all.at);
  const Eigen::MatrixXd covariance = (jacobian.transpose() * jacobian).inverse();
  for (Eigen::Index i = 0; i < jacobian.rows(); ++i)
    all.taken.push_back(std::clamp(jacobian.row(i).dot(covariance * jacobian.row(i).transpose()), 0.0, 1.0));
  return all;
}

/// Squares of deviations that are of one kind.
struct Squares {
  double sum = 0.0, count = 0.0;
  // Expected of a deviation that is seen with an error: where it can hardly be seen, or the fit takes it up,
  // it is expected to be as before (the E step of [Dempster1977]).
  void expect(double seen, double before, double error, double taken) {
    const double told = before * before / (before * before + error * error);
    sum += std::pow(told * seen, 2.0) + before * before * (1.0 - told + told * taken);
    count += 1.0;
  }
  [[nodiscard]] double deviation(double usual, double worth) const {
    return std::sqrt((worth * usual * usual + sum) / (worth + count));
  }
};

// Of the wall both the second harmonic, as far as tilt has not taken it up, and the finer ones tell.
double wall_of(const Solution& solution, const Evidence& evidence, const FitResiduals& fit) {
  Squares squares;
  for (const std::size_t i : {0U, 1U})
    squares.expect(fit.at[i] * evidence.roundness_u(), evidence.wall_u, evidence.rim_else_u, fit.taken[i]);
  const PlaneView view(solution.camera, evidence.straight, evidence.anchor);
  for (const Harmonic& fine : finer_harmonics(view, evidence.rim))
    squares.expect(fine.like_second, evidence.wall_u, fine.u, 0.0);
  return squares.deviation(kUnevenWall, kUsualObjectWorth);
}

double edge_of(const Evidence& evidence, const FitResiduals& fit) {
  // Two more than the fit takes up go to pitch and place.
  Squares squares{0.0, -2.0};
  for (std::size_t i = 2; i < 2 + evidence.bar.points.size(); ++i) {
    squares.sum += std::pow(fit.at[i] * evidence.edge_u, 2.0);
    squares.count += 1.0 - fit.taken[i];
  }
  squares.count = std::max(0.0, squares.count);
  return squares.deviation(evidence.usual_edge, kUsualEdgeWorth);
}

double square_of(const Evidence& evidence, const FitResiduals& fit) {
  if (evidence.card == nullptr) return kCardSquareness;
  const auto& sides = evidence.card->sides;
  const auto count =
      std::count_if(sides.begin(), sides.end(), [](const auto& side) { return side.has_value(); });
  if (count < 2) return kCardSquareness;
  Squares squares;
  std::size_t i = 2 + evidence.bar.points.size();
  for (const auto& side : sides) {
    if (!side) continue;
    const double error = side->direction_u_rad, seen = fit.at[i] * std::hypot(evidence.side_u(), error);
    squares.expect(
        seen, evidence.side_u(), error, std::min(1.0, fit.taken[i] + 1.0 / static_cast<double>(count)));
    ++i;
  }
  return std::sqrt(2.0) * squares.deviation(kCardSquareness / std::sqrt(2.0), kUsualObjectWorth);
}

// The prior deviations say what cores, cards and bars are in general; how these ones agree with a plane seen
// from one place says how good they are. Variance components with knowledge worth a few residuals, in turn
// with the fit.
void settle_spreads(Solution& solution, Evidence& evidence) {
  constexpr int kRounds = 4;  // after which they change by some per cent only
  for (int round = 0; round < kRounds; ++round) {
    const FitResiduals fit = residuals_at(solution, evidence);
    const double wall = wall_of(solution, evidence, fit), edge = edge_of(evidence, fit);
    evidence.square_u = square_of(evidence, fit);
    evidence.wall_u = wall;
    evidence.edge_u = edge;
    solution = solve_from(solution.camera, evidence);
  }
}

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

Scale scale_of(const Camera& camera, const Evidence& evidence, double block_mm) {
  const PlaneView view(camera, evidence.straight, evidence.anchor);
  const Spacing spacing = fit_spacing(view, evidence.bar);
  Scale scale{};
  scale.circle = fit_circle(view, evidence.rim);
  scale.mm_per_depth = block_mm / spacing.pitch;
  scale.depth = view.space({scale.circle.x, scale.circle.y}).z();
  scale.centre_px = view.pixel({scale.circle.x, scale.circle.y});
  scale.mm_per_px =
      scale.mm_per_depth * scale.depth / view.focal() / view.lens().magnification(scale.centre_px);
  scale.pitch_u_rel = spacing.u_rel;
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
Open open_of(const Solution& solution, const Evidence& evidence, double block_mm, double scale_at) {
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
          {{0.5 * (photo.width_px() - 1), 0.5 * (photo.height_px() - 1)}, 0.5 * diagonal, 0.0},
          {face.ellipse.x, face.ellipse.y},
          std::log(focal),
          known ? kFocalPriorExif : kFocalPriorNone,
          missing,
          std::hypot(kSlantCut, rim_noise, kBrokenRim * missing * missing),
          kUsualEdge_px / pitch_px,
          edge_deviation_px(bar) / pitch_px};
}

std::vector<UncertaintyComponent> scale_components(const Scale& scale,
                                                   const Open& open,
                                                   const Photo& photo,
                                                   const CalibrationSettings& settings) {
  std::vector<UncertaintyComponent> components;
  const auto add = [&](std::string name, double u, double sensitivity, std::string origin) {
    components.push_back(
        {std::move(name), 100.0 * u, "%", sensitivity, 100.0 * u * std::abs(sensitivity), std::move(origin)});
  };
  add("bar edges", scale.pitch_u_rel, 1.0, "scatter of the block edges about equal spacing");
  add("tilt and focal length",
      open.pinhole_u_rel,
      1.0,
      photo.camera.focal_length_35mm_mm ? "covariance of the pose fit, focal length from EXIF"
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

Pose pose_of(const Solution& solution,
             const Scale& scale,
             const Evidence& evidence,
             const Photo& photo,
             const CalibrationSettings& settings) {
  const Camera& camera = solution.camera;
  const PlaneView view(camera, evidence.straight, evidence.anchor);
  const Open open = open_of(solution, evidence, block_of(settings), scale.mm_per_px);
  Pose pose{};
  pose.tilt_deg = std::hypot(camera.tilt_x, camera.tilt_y) * 180.0 / CV_PI;
  pose.tilt_u_deg = open.tilt_u * 180.0 / CV_PI;
  pose.tilt_toward_rad = std::atan2(camera.tilt_y, camera.tilt_x);
  pose.focal_px = view.focal();
  pose.focal_source = evidence.focal_prior_u == kFocalPriorExif ? "EXIF" : "assumed";
  pose.lens = view.lens();
  pose.lens_u = open.bend_u;
  pose.scale = MmPerPx{scale.mm_per_px};
  pose.scale_components = scale_components(scale, open, photo, settings);
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
  Evidence evidence = gather(photo, face, bar, card);
  Solution solution = solve(evidence);
  const double usual_round_u = evidence.roundness_u();
  settle_spreads(solution, evidence);
  const Scale scale = scale_of(solution.camera, evidence, block_of(settings));

  FittedPose fitted{};
  fitted.pose = pose_of(solution, scale, evidence, photo, settings);
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
