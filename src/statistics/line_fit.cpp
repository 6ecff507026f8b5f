#include "corefleck/statistics.hpp"

#include <cassert>
#include <cmath>

namespace corefleck {
namespace {

double weight(const LinePoint& point) { return 1.0 / (point.u * point.u); }

/// Weighted mean of what `of` gives for a point. In two passes, as `mean`: what rounding left behind shows in
/// the residuals.
template <class Of>
double weighted_mean(std::span<const LinePoint> points, double sum_of_weights, Of of) {
  double centre = 0.0;
  for (int pass = 0; pass < 2; ++pass) {
    double sum = 0.0;
    for (const LinePoint& point : points) sum += weight(point) * (of(point) - centre);
    centre += sum / sum_of_weights;
  }
  return centre;
}

}  // namespace

double FittedLine::at(double x) const { return y_mean + slope * (x - x_mean); }

double FittedLine::u_at(double x) const { return std::hypot(u_mean, u_slope * (x - x_mean)); }

double FittedLine::scatter() const {
  assert(degrees_of_freedom >= 1);
  return std::sqrt(chi_squared / degrees_of_freedom);
}

// About the centroid the two coefficients are uncorrelated, and no digits are lost to an x that is far from
// 0: dates are.
FittedLine fitted_line(std::span<const LinePoint> points) {
  assert(points.size() >= 2);
  double sum_of_weights = 0.0;
  for (const LinePoint& point : points) {
    assert(point.u > 0.0);
    sum_of_weights += weight(point);
  }
  FittedLine line;
  line.x_mean = weighted_mean(points, sum_of_weights, [](const LinePoint& p) { return p.x; });
  line.y_mean = weighted_mean(points, sum_of_weights, [](const LinePoint& p) { return p.y; });
  double sum_xx = 0.0, sum_xy = 0.0;
  for (const LinePoint& point : points) {
    const double from_mean = point.x - line.x_mean;
    sum_xx += weight(point) * from_mean * from_mean;
    sum_xy += weight(point) * from_mean * (point.y - line.y_mean);
  }
  assert(sum_xx > 0.0);
  line.slope = sum_xy / sum_xx;
  line.u_mean = 1.0 / std::sqrt(sum_of_weights);
  line.u_slope = 1.0 / std::sqrt(sum_xx);
  for (const LinePoint& point : points) {
    const double residual = (point.y - line.at(point.x)) / point.u;
    line.chi_squared += residual * residual;
  }
  line.degrees_of_freedom = static_cast<int>(points.size()) - 2;
  return line;
}

}  // namespace corefleck
