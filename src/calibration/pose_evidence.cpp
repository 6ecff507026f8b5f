#include "pose_evidence.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace corefleck {
namespace {

// A round core sawn at a slant shows an ellipse: 2 degrees off square make a second harmonic of a quarter of
// their tangent's square, which no other harmonic tells of.
constexpr double kSlantCut = 0.0003;
constexpr double kTiltPrior_rad = 0.15;   // a photographer looks straight down within some degrees
constexpr double kFocalPriorExif = 0.06;  // of the logarithm: rounding of the tag, cropping by stabilisation
constexpr double kFocalPriorNone = 0.5;
constexpr double kFocal35_mm = 48.0;  // between a phone's wide lens of 26 and a macro lens of 90
// Bend that the lens leaves in a photo, share at the frame's corner: in pictures as cameras and phones write
// them a few tenths of a per cent are usual, 1 % is much, and wide lenses leave twice that, for whose sake
// this knowledge fades (common practice, no source).
constexpr double kBendPrior = 0.004;
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

/// By what the edges show and what they are off by in general.
double edge_deviation_px(const FoundBar& bar, double usual_px) {
  const double free = std::max(0.0, static_cast<double>(bar.points.size()) - 3.0);
  return std::sqrt((free * std::pow(bar.bar.residual_px, 2.0) + kUsualEdgeWorth * std::pow(usual_px, 2.0)) /
                   (free + kUsualEdgeWorth));
}

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

bool is_end(const PoseEvidence& evidence, std::size_t edge) {
  const int index = evidence.bar.indices[edge];
  return index == 0 || index == evidence.blocks;
}

}  // namespace

std::vector<double> residuals_of(const Camera& camera, const PoseEvidence& evidence) {
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
    residuals.push_back(edges[i] / (evidence.edge_u * (is_end(evidence, i) ? kEndEdge : 1.0)));
  if (evidence.card != nullptr) card_residuals(view, *evidence.card, evidence.side_u(), residuals);
  residuals.push_back(camera.tilt_x / kTiltPrior_rad);
  residuals.push_back(camera.tilt_y / kTiltPrior_rad);
  residuals.push_back((camera.log_focal - evidence.focal_prior) / evidence.focal_prior_u);
  residuals.push_back(faded(camera.bend / kBendPrior));
  return residuals;
}

PoseEvidence pose_evidence(const Photo& photo,
                           const FoundFace& face,
                           const FoundBar& bar,
                           const FoundCard* card,
                           const CalibrationSettings& settings) {
  const double diagonal = std::hypot(photo.width_px(), photo.height_px());
  const auto& exif = photo.camera.focal_length_35mm_mm;
  const bool known = exif && *exif > 8.0 && *exif < 1200.0;
  const double focal = (known ? *exif : kFocal35_mm) * diagonal / 43.27;  // the diagonal of 36 x 24 mm film
  const double pitch_px = cv::norm(bar.points.back() - bar.points.front()) /
                          std::max(1, bar.indices.back() - bar.indices.front());
  const double block_mm = settings.bar_length.number() / settings.bar_blocks;
  const double usual_edge_px = std::hypot(kUsualEdge_px, kPrintedEdge_mm * pitch_px / block_mm);
  const double rim_noise = face.ellipse.residual_px / face.ellipse.semi_major * 2.0 /
                           std::sqrt(std::max(20.0, static_cast<double>(face.rim.size()) / 8.0));
  const double missing = std::clamp(1.0 - 0.01 * face.ellipse.rim_found_pct, 0.0, 1.0);
  return {face,
          thinned(face.rim),
          bar,
          settings.bar_blocks,
          card,
          {{0.5 * (photo.width_px() - 1), 0.5 * (photo.height_px() - 1)}, 0.5 * diagonal, 0.0},
          {face.ellipse.x, face.ellipse.y},
          std::log(focal),
          known ? kFocalPriorExif : kFocalPriorNone,
          known,
          missing,
          std::hypot(kSlantCut, rim_noise, kBrokenRim * missing * missing),
          usual_edge_px / pitch_px,
          edge_deviation_px(bar, usual_edge_px) / pitch_px};
}

}  // namespace corefleck
