#include "rigid_fit.hpp"

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

struct Centres {
  cv::Point2d first, second;
};

Centres centres_of(const std::vector<PlacePair>& pairs) {
  Centres sum{};
  double weight = 0.0;
  for (const PlacePair& pair : pairs) {
    sum.first += pair.weight * pair.first;
    sum.second += pair.weight * pair.second;
    weight += pair.weight;
  }
  weight = std::max(weight, 1e-12);
  return {sum.first / weight, sum.second / weight};
}

/// The map whose linear part is given and which takes one centre of gravity to the other.
FaceTransform about(const Centres& centres, const cv::Matx22d& linear) {
  const cv::Vec2d turned = linear * cv::Vec2d(centres.first.x, centres.first.y);
  return {linear, cv::Vec2d(centres.second.x, centres.second.y) - turned};
}

}  // namespace

FaceTransform rigid_fit(const std::vector<PlacePair>& pairs) {
  const Centres centres = centres_of(pairs);
  double dot = 0.0, cross = 0.0;
  for (const PlacePair& pair : pairs) {
    const cv::Point2d p = pair.first - centres.first, q = pair.second - centres.second;
    dot += pair.weight * p.dot(q);
    cross += pair.weight * p.cross(q);
  }
  const double angle = std::atan2(cross, dot);
  return about(centres, {std::cos(angle), -std::sin(angle), std::sin(angle), std::cos(angle)});
}

FaceTransform affine_fit(const std::vector<PlacePair>& pairs) {
  const Centres centres = centres_of(pairs);
  cv::Matx22d pp = cv::Matx22d::zeros(), qp = cv::Matx22d::zeros();
  for (const PlacePair& pair : pairs) {
    const cv::Vec2d p(pair.first.x - centres.first.x, pair.first.y - centres.first.y);
    const cv::Vec2d q(pair.second.x - centres.second.x, pair.second.y - centres.second.y);
    pp += pair.weight * (p * p.t());
    qp += pair.weight * (q * p.t());
  }
  const double spread = cv::trace(pp);
  if (cv::determinant(pp) < 1e-6 * spread * spread) return rigid_fit(pairs);
  return about(centres, qp * pp.inv());
}

double distance_mm(const FaceTransform& transform, const PlacePair& pair) {
  return cv::norm(transform(pair.first) - pair.second);
}

cv::Matx23d grid_map(const FaceGrid& first, const FaceGrid& second, const FaceTransform& transform) {
  const double k = first.pitch / second.pitch, pitch = second.pitch.number();
  const cv::Matx22d& a = transform.linear;
  // Rows of a grid go down and y goes up, on both sides: that turns the signs off the diagonal.
  cv::Matx23d map(k * a(0, 0), -k * a(0, 1), 0.0, -k * a(1, 0), k * a(1, 1), 0.0);
  map(0, 2) = second.centre_px + transform.shift_mm[0] / pitch - (map(0, 0) + map(0, 1)) * first.centre_px;
  map(1, 2) = second.centre_px - transform.shift_mm[1] / pitch - (map(1, 0) + map(1, 1)) * first.centre_px;
  return map;
}

FaceTransform FaceTransform::inverse() const {
  const cv::Matx22d back = linear.inv();
  return {back, -(back * shift_mm)};
}

double FaceTransform::rotation_deg() const {
  const double angle = std::atan2(linear(1, 0) - linear(0, 1), linear(0, 0) + linear(1, 1)) * 180.0 / CV_PI;
  return angle <= -180.0 ? angle + 360.0 : angle;
}

}  // namespace corefleck
