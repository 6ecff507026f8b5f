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
  return {linear, cv::Vec2d(centres.second.x, centres.second.y) - turned, {0.0, 0.0}};
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

FaceTransform projective_fit(const std::vector<PlacePair>& pairs) {
  constexpr double kUnit_mm = 30.0;  // so that all eight columns are of one size
  cv::Matx<double, 8, 8> normal = cv::Matx<double, 8, 8>::zeros();
  cv::Vec<double, 8> right = cv::Vec<double, 8>::zeros();
  for (const PlacePair& pair : pairs) {
    const cv::Point2d p = pair.first / kUnit_mm, q = pair.second / kUnit_mm;
    const cv::Vec<double, 8> of_x(p.x, p.y, 1.0, 0.0, 0.0, 0.0, -q.x * p.x, -q.x * p.y);
    const cv::Vec<double, 8> of_y(0.0, 0.0, 0.0, p.x, p.y, 1.0, -q.y * p.x, -q.y * p.y);
    normal += pair.weight * (of_x * of_x.t() + of_y * of_y.t());
    right += pair.weight * (q.x * of_x + q.y * of_y);
  }
  cv::Vec<double, 8> h;
  if (!cv::solve(normal, right, h, cv::DECOMP_CHOLESKY)) return affine_fit(pairs);
  return {{h[0], h[1], h[3], h[4]}, {kUnit_mm * h[2], kUnit_mm * h[5]}, {h[6] / kUnit_mm, h[7] / kUnit_mm}};
}

double distance_mm(const FaceTransform& transform, const PlacePair& pair) {
  return cv::norm(transform(pair.first) - pair.second);
}

cv::Matx33d grid_map(const FaceGrid& first, const FaceGrid& second, const FaceTransform& transform) {
  const auto to_grid = [](const FaceGrid& grid) {
    const double per_mm = 1.0 / grid.pitch.number();
    return cv::Matx33d(per_mm, 0.0, grid.centre_px, 0.0, -per_mm, grid.centre_px, 0.0, 0.0, 1.0);
  };
  return to_grid(second) * transform.matrix() * to_grid(first).inv();
}

cv::Matx33d FaceTransform::matrix() const {
  return {linear(0, 0),
          linear(0, 1),
          shift_mm[0],
          linear(1, 0),
          linear(1, 1),
          shift_mm[1],
          nearness_per_mm[0],
          nearness_per_mm[1],
          1.0};
}

FaceTransform FaceTransform::inverse() const {
  cv::Matx33d back = matrix().inv();
  back = back * (1.0 / back(2, 2));
  return {
      {back(0, 0), back(0, 1), back(1, 0), back(1, 1)}, {back(0, 2), back(1, 2)}, {back(2, 0), back(2, 1)}};
}

cv::Matx22d FaceTransform::jacobian(const cv::Point2d& p_mm) const {
  const cv::Point2d q = (*this)(p_mm);
  const double w = 1.0 + nearness_per_mm[0] * p_mm.x + nearness_per_mm[1] * p_mm.y;
  const cv::Matx22d bend(
      q.x * nearness_per_mm[0], q.x * nearness_per_mm[1], q.y * nearness_per_mm[0], q.y * nearness_per_mm[1]);
  return (linear - bend) * (1.0 / w);
}

double FaceTransform::rotation_deg() const {
  const cv::Matx22d a = jacobian();
  const double angle = std::atan2(a(1, 0) - a(0, 1), a(0, 0) + a(1, 1)) * 180.0 / CV_PI;
  return angle <= -180.0 ? angle + 360.0 : angle;
}

double FaceTransform::area_ratio(const cv::Point2d& p_mm) const { return cv::determinant(jacobian(p_mm)); }

}  // namespace corefleck
