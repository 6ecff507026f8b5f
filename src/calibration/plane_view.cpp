#include "plane_view.hpp"

#include "corefleck/statistics.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace corefleck {
namespace {

// Square to the block edges, which is along the bar whatever line through its blocks they were found on; that
// line where it is not known how the edges run.
Eigen::Vector2d along_bar(const PlaneView& view, const FoundBar& bar) {
  Eigen::Vector2d line = (view.plane(bar.points.back()) - view.plane(bar.points.front())).normalized();
  if (bar.sections.empty()) return line;
  std::vector<double> angles;
  for (const EdgeSection& edge : bar.sections) {
    const Eigen::Vector2d across = view.plane(edge.high) - view.plane(edge.low);
    const Eigen::Vector2d square(across.y(), -across.x());
    angles.push_back(std::remainder(std::atan2(square.y(), square.x()) - std::atan2(line.y(), line.x()),
                                    std::numbers::pi));
  }
  return Eigen::Rotation2Dd(median(angles)) * line;
}

}  // namespace

PlaneView::PlaneView(const Camera& camera, LensBend straight, cv::Point2d anchor)
    : focal_(std::exp(camera.log_focal)), lens_(straight) {
  lens_.at_corner = camera.bend;
  const double tilt = std::hypot(camera.tilt_x, camera.tilt_y);
  const double s = tilt > 1e-12 ? std::sin(tilt) / tilt : 1.0;
  normal_ = Eigen::Vector3d(-camera.tilt_x * s, -camera.tilt_y * s, std::cos(tilt));
  anchor_ = ray(lens_.straightened(anchor));
  right_ = (Eigen::Vector3d::UnitX() - normal_.x() * normal_).normalized();
  down_ = normal_.cross(right_);
}

// Linear in centre and harmonics after a first centre: points lie on a circle within a few per cent.
Circle fit_circle(const PlaneView& view, const std::vector<cv::Point2d>& rim) {
  Circle circle{0.0, 0.0, 0.0, 0.0, 0.0, 0.0};
  std::vector<Eigen::Vector2d> points;
  for (const cv::Point2d& p : rim) points.push_back(view.plane(p));
  Eigen::Matrix<double, 5, 1> c;
  for (int pass = 0; pass < 3; ++pass) {
    Eigen::Matrix<double, 5, 5> normal = Eigen::Matrix<double, 5, 5>::Zero();
    Eigen::Matrix<double, 5, 1> right = Eigen::Matrix<double, 5, 1>::Zero();
    double squares = 0.0;
    for (const auto& p : points) {
      const double dx = p.x() - circle.x, dy = p.y() - circle.y;
      const double r = std::sqrt(dx * dx + dy * dy), c1 = dx / r, s1 = dy / r;
      Eigen::Matrix<double, 5, 1> row;
      row << 1.0, c1, s1, c1 * c1 - s1 * s1, 2.0 * s1 * c1;
      normal += row * row.transpose();
      right += row * r;
      squares += r * r;
    }
    c = normal.ldlt().solve(right);
    circle.x += c[1];
    circle.y += c[2];
    circle.deviation =
        std::sqrt(std::max(0.0, squares - c.dot(right)) / static_cast<double>(points.size())) / c[0];
  }
  circle.r = c[0];
  circle.cos2 = c[3] / c[0];
  circle.sin2 = c[4] / c[0];
  return circle;
}

// Least squares with all orders at once, since those of a rim with gaps are not independent.
std::vector<Harmonic> finer_harmonics(const PlaneView& view, const std::vector<cv::Point2d>& rim) {
  constexpr int kFinest = 5, kTerms = 2 * kFinest + 1, kFirstOfThird = 5;
  const Circle circle = fit_circle(view, rim);
  const auto count = static_cast<Eigen::Index>(rim.size());
  if (count <= kTerms) return {};
  Eigen::MatrixXd rows(count, kTerms);
  Eigen::VectorXd radius(count);
  for (Eigen::Index i = 0; i < count; ++i) {
    const Eigen::Vector2d p =
        view.plane(rim[static_cast<std::size_t>(i)]) - Eigen::Vector2d(circle.x, circle.y);
    const double angle = std::atan2(p.y(), p.x());
    radius(i) = p.norm() / circle.r;
    rows(i, 0) = 1.0;
    for (int k = 1; k <= kFinest; ++k) {
      rows(i, 2 * k - 1) = std::cos(k * angle);
      rows(i, 2 * k) = std::sin(k * angle);
    }
  }
  const Eigen::MatrixXd inverse = (rows.transpose() * rows).inverse();
  // On too short an arc they cannot be told apart.
  if (!inverse.allFinite() || !(inverse.diagonal().minCoeff() > 0.0)) return {};
  const Eigen::VectorXd terms = inverse * (rows.transpose() * radius);
  // Neighbouring points are seen by the same pixels: half of them count.
  const double free = 0.5 * static_cast<double>(count - kTerms);
  const double variance = (radius - rows * terms).squaredNorm() / free;
  std::vector<Harmonic> finer;
  for (int i = kFirstOfThird; i < kTerms; ++i) {
    const int order = (i + 1) / 2;
    const double share = std::pow(2.0 / order, 2.0);
    finer.push_back({terms(i) / share, std::sqrt(variance * inverse(i, i)) / share});
  }
  return finer;
}

// The edges projected on the bar's direction, then a straight line through place against index.
Spacing fit_spacing(const PlaneView& view, const FoundBar& bar) {
  std::vector<Eigen::Vector2d> points;
  Eigen::Vector2d mean = Eigen::Vector2d::Zero();
  for (const cv::Point2d& p : bar.points) {
    points.push_back(view.plane(p));
    mean += points.back();
  }
  mean /= static_cast<double>(points.size());
  const Eigen::Vector2d along = along_bar(view, bar);
  double mean_k = 0.0;
  for (const int k : bar.indices) mean_k += k;
  mean_k /= static_cast<double>(points.size());
  double kk = 0.0, ks = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    kk += std::pow(bar.indices[i] - mean_k, 2.0);
    ks += (bar.indices[i] - mean_k) * (points[i] - mean).dot(along);
  }
  Spacing spacing{ks / kk, 0.0, {}, 0.0};
  double squares = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    spacing.residuals.push_back(((points[i] - mean).dot(along) - (bar.indices[i] - mean_k) * spacing.pitch) /
                                spacing.pitch);
    squares += spacing.residuals.back() * spacing.residuals.back();
  }
  const double pitch_px = cv::norm(bar.points.back() - bar.points.front()) /
                          std::max(1, bar.indices.back() - bar.indices.front());
  const double dof = std::max(1.0, static_cast<double>(points.size()) - 2.0);
  spacing.scatter_px = std::sqrt(squares / dof) * pitch_px;
  spacing.u_by_edge = 1.0 / std::sqrt(kk);
  return spacing;
}

}  // namespace corefleck
