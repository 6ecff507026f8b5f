#include "card_light.hpp"

#include "rectify.hpp"

#include "corefleck/statistics.hpp"

#include <opencv2/core.hpp>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr int kNodes = 8;             // across the face and across the card
constexpr double kFaceReach = 0.85;   // share of the radius
constexpr int kTerms = 5;             // x, y, x^2, x y, y^2
constexpr int kAll = 2 * kTerms + 2;  // of the light, of the plaster, and two reflectances
// What lamps, windows and lenses do over a frame, standard deviations of the logarithm per half diagonal.
// Lens fall-off at the corner reaches a third, and a lamp beside the bench halves the light across the frame.
// Common practice, no source.
constexpr double kSlope = 0.5, kCurve = 0.2;
// Blocks of plaster and card stray at least so much about any smooth light: mottle, handling marks.
constexpr double kFaceStray = 0.015, kCardStray = 0.01;
// Plaster's own lightness drifts slowly over a face, standard deviations of the logarithm per radius. Set on
// rendered photos. Without it a drift would pass for light and be carried on to the card.
constexpr double kDrift = 0.05;
constexpr double kNotSmooth = 0.015;  // real light is no second-order surface
constexpr double kFlatFrame = 0.01;
constexpr double kTail = 2.0;  // Student-like weights: half at this many deviations
constexpr int kPasses = 10;

struct Spot {
  cv::Point2d at;  // photo pixels
  double log_level;
  cv::Point2d on_face;  // over its radius; of no meaning on the card
};

cv::Point2d inside(const std::array<cv::Point2d, 4>& corners, double u, double v) {
  return (1.0 - u) * (1.0 - v) * corners[0] + u * (1.0 - v) * corners[1] + u * v * corners[2] +
         (1.0 - u) * v * corners[3];
}

double node(int i) { return (i + 0.5) / kNodes; }

/// Mean luminance of a small square about a point; 0 where it leaves the photo.
double level_about(const Photo& photo, const cv::Point2d& at, double half_side) {
  const int half = std::max(1, static_cast<int>(half_side));
  const cv::Rect square(
      static_cast<int>(at.x) - half, static_cast<int>(at.y) - half, 2 * half + 1, 2 * half + 1);
  const cv::Rect area = square & cv::Rect(0, 0, photo.width_px(), photo.height_px());
  return area == square ? cv::mean(linear_luminance(photo, area))[0] : 0.0;
}

std::vector<double> levels_about(const Photo& photo,
                                 const std::vector<cv::Point2d>& places,
                                 double half_side) {
  std::vector<double> levels(places.size());
  cv::parallel_for_(cv::Range(0, static_cast<int>(places.size())), [&](const cv::Range& range) {
    for (auto i = static_cast<std::size_t>(range.start); i < static_cast<std::size_t>(range.end); ++i)
      levels[i] = level_about(photo, places[i], half_side);
  });
  return levels;
}

std::vector<cv::Point2d> places_on_face(const CalibratedFace& face, std::vector<cv::Point2d>& over_radius) {
  std::vector<cv::Point2d> places;
  const double radius = face.radius.number();
  for (int j = 0; j < kNodes; ++j)
    for (int i = 0; i < kNodes; ++i) {
      const cv::Point2d unit(2.0 * node(i) - 1.0, 2.0 * node(j) - 1.0);
      if (std::hypot(unit.x, unit.y) > kFaceReach) continue;
      over_radius.push_back(unit);
      places.push_back(face.pose.seen_at(unit.x * radius, unit.y * radius));
    }
  return places;
}

std::vector<cv::Point2d> places_on_card(const GreyCard& card) {
  std::vector<cv::Point2d> places;
  for (int j = 0; j < kNodes; ++j)
    for (int i = 0; i < kNodes; ++i) places.push_back(inside(card.corners, node(i), node(j)));
  return places;
}

double cell_half_side(const GreyCard& card) {
  return 0.4 / kNodes *
         std::min(cv::norm(card.corners[1] - card.corners[0]), cv::norm(card.corners[2] - card.corners[1]));
}

std::vector<Spot> card_levels(const GreyCard& card, const Photo& photo) {
  const std::vector<cv::Point2d> places = places_on_card(card);
  const std::vector<double> levels = levels_about(photo, places, cell_half_side(card));
  std::vector<Spot> spots;
  for (std::size_t i = 0; i < places.size(); ++i)
    if (levels[i] > 0.0) spots.push_back({places[i], std::log(levels[i]), {}});
  return spots;
}

std::vector<Spot> face_levels(const CalibratedFace& face) {
  std::vector<cv::Point2d> units;
  const std::vector<cv::Point2d> places = places_on_face(face, units);
  std::vector<Spot> spots;
  for (std::size_t i = 0; i < places.size(); ++i)
    spots.push_back({places[i], std::log(face.light.relative(units[i].x, units[i].y)), units[i]});
  return spots;
}

Eigen::VectorXd terms_of(const cv::Point2d& p) {
  Eigen::VectorXd terms(kTerms);
  terms << p.x, p.y, p.x * p.x, p.x * p.y, p.y * p.y;
  return terms;
}

Eigen::VectorXd terms_at(const cv::Point2d& at, const Photo& photo) {
  const double half = 0.5 * std::hypot(photo.width_px(), photo.height_px());
  return terms_of((at - 0.5 * cv::Point2d(photo.width_px(), photo.height_px())) / half);
}

Eigen::VectorXd mean_terms(const std::vector<Spot>& spots, const Photo& photo) {
  Eigen::VectorXd sum = Eigen::VectorXd::Zero(kTerms);
  for (const Spot& spot : spots) sum += terms_at(spot.at, photo);
  return sum / static_cast<double>(spots.size());
}

double stray(const Eigen::VectorXd& residual, double least) {
  return std::max(least, robust_deviation({residual.data(), residual.data() + residual.size()}));
}

/// Columns: light's terms, the plaster's, then 1 for the face's and 1 for the card's unknown reflectance.
Eigen::MatrixXd design(const std::vector<Spot>& on_face,
                       const std::vector<Spot>& on_card,
                       const Photo& photo) {
  const auto faces = static_cast<Eigen::Index>(on_face.size()),
             cards = static_cast<Eigen::Index>(on_card.size());
  Eigen::MatrixXd rows = Eigen::MatrixXd::Zero(faces + cards, kAll);
  for (Eigen::Index i = 0; i < faces + cards; ++i) {
    const bool of_face = i < faces;
    const Spot& spot =
        of_face ? on_face[static_cast<std::size_t>(i)] : on_card[static_cast<std::size_t>(i - faces)];
    rows.row(i).head(kTerms) = terms_at(spot.at, photo);
    if (of_face) rows.row(i).segment(kTerms, kTerms) = terms_of(spot.on_face);
    rows(i, of_face ? 2 * kTerms : 2 * kTerms + 1) = 1.0;
  }
  return rows;
}

struct JointFit {
  Eigen::VectorXd light;
  Eigen::MatrixXd covariance;
};

JointFit fit_jointly(const std::vector<Spot>& on_face, const std::vector<Spot>& on_card, const Photo& photo) {
  const Eigen::MatrixXd rows = design(on_face, on_card, photo);
  const auto faces = static_cast<Eigen::Index>(on_face.size()), cards = rows.rows() - faces;
  Eigen::VectorXd level(rows.rows()), sigma(rows.rows());
  for (Eigen::Index i = 0; i < rows.rows(); ++i)
    level[i] = i < faces ? on_face[static_cast<std::size_t>(i)].log_level
                         : on_card[static_cast<std::size_t>(i - faces)].log_level;
  Eigen::VectorXd prior = Eigen::VectorXd::Zero(kAll);
  prior.head(2).setConstant(1.0 / (kSlope * kSlope));
  prior.segment(2, kTerms - 2).setConstant(1.0 / (kCurve * kCurve));
  prior.segment(kTerms, kTerms).setConstant(1.0 / (kDrift * kDrift));
  sigma << Eigen::VectorXd::Constant(faces, kFaceStray), Eigen::VectorXd::Constant(cards, kCardStray);
  Eigen::VectorXd weight = sigma.array().square().inverse();
  Eigen::MatrixXd normal;
  Eigen::VectorXd solution;
  for (int pass = 0; pass < kPasses; ++pass) {
    normal = rows.transpose() * weight.asDiagonal() * rows;
    normal.diagonal() += prior;
    solution = normal.ldlt().solve(rows.transpose() * weight.asDiagonal() * level);
    const Eigen::VectorXd off = level - rows * solution;
    sigma << Eigen::VectorXd::Constant(faces, stray(off.head(faces), kFaceStray)),
        Eigen::VectorXd::Constant(cards, stray(off.tail(cards), kCardStray));
    const Eigen::ArrayXd z = off.array() / (kTail * sigma.array());
    weight = sigma.array().square().inverse() / (1.0 + z.square());
  }
  const Eigen::MatrixXd covariance = normal.ldlt().solve(Eigen::MatrixXd::Identity(kAll, kAll));
  return {solution.head(kTerms), covariance.topLeftCorner(kTerms, kTerms)};
}

double mean_log(const std::vector<Spot>& spots) {
  double sum = 0.0;
  for (const Spot& spot : spots) sum += spot.log_level;
  return sum / static_cast<double>(spots.size());
}

}  // namespace

CardLight light_on_card(const CalibratedFace& face, const GreyCard& card, const Photo& photo) {
  const std::vector<Spot> on_face = face_levels(face), on_card = card_levels(card, photo);
  if (on_card.size() < kNodes) return {1.0, kSlope};
  const JointFit fit = fit_jointly(on_face, on_card, photo);
  const Eigen::VectorXd way = mean_terms(on_face, photo) - mean_terms(on_card, photo);
  return {std::exp(way.dot(fit.light)), std::hypot(std::sqrt(way.dot(fit.covariance * way)), kNotSmooth)};
}

CardLight light_on_card_in_flat_frame(const CalibratedFace& face, const GreyCard& card, const Photo& flat) {
  std::vector<cv::Point2d> units;
  std::vector<Spot> on_face;
  for (const cv::Point2d& at : places_on_face(face, units)) {
    const double level = level_about(flat, at, cell_half_side(card));
    if (level > 0.0) on_face.push_back({at, std::log(level), {}});
  }
  const std::vector<Spot> on_card = card_levels(card, flat);
  if (on_face.empty() || on_card.empty()) return {1.0, kSlope};
  return {std::exp(mean_log(on_face) - mean_log(on_card)), kFlatFrame};
}

}  // namespace corefleck
