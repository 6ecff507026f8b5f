#include "corefleck/statistics.hpp"

#include <cassert>
#include <cmath>
#include <limits>
#include <numbers>

namespace corefleck {
namespace {

constexpr double kNormal95 = 1.959963984540054;  // 0.975 quantile of the standard normal
constexpr double kTail = 0.05;

// Above this the expansion about the normal is exact to 1e-12, and below it no gamma function overflows.
constexpr double kManyDegrees = 300.0;

// Cornish-Fisher expansion of the quantile in 1/nu (Abramowitz & Stegun 1964, 26.7.5), z that of the normal.
double quantile_of_many_degrees(double nu) {
  constexpr double z = kNormal95, z2 = z * z;
  constexpr double g1 = (z2 + 1.0) * z / 4.0;
  constexpr double g2 = ((5.0 * z2 + 16.0) * z2 + 3.0) * z / 96.0;
  constexpr double g3 = (((3.0 * z2 + 19.0) * z2 + 17.0) * z2 - 15.0) * z / 384.0;
  constexpr double g4 = ((((79.0 * z2 + 776.0) * z2 + 1482.0) * z2 - 1920.0) * z2 - 945.0) * z / 92160.0;
  return z + (g1 + (g2 + (g3 + g4 / nu) / nu) / nu) / nu;
}

// Continued fraction of the incomplete beta function (Abramowitz & Stegun 1964, 26.5.8) by Lentz's method; it
// converges fast for x < (a + 1) / (a + b + 2).
double beta_fraction(double a, double b, double x) {
  constexpr double kTiny = 1e-300;
  const auto away_from_zero = [](double value) { return std::abs(value) < kTiny ? kTiny : value; };
  double c = 1.0;
  double d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
  double fraction = d;
  for (int m = 1; m <= 1000; ++m) {
    const double even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
    const double odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
    double change = 1.0;
    for (const double coefficient : {even, odd}) {
      d = 1.0 / away_from_zero(1.0 + coefficient * d);
      c = away_from_zero(1.0 + coefficient / c);
      change = c * d;
      fraction *= change;
    }
    if (std::abs(change - 1.0) < std::numeric_limits<double>::epsilon()) break;
  }
  return fraction;
}

// Density of t at 0: gamma((nu + 1) / 2) / (sqrt(nu pi) gamma(nu / 2)).
double density_at_zero(double nu) {
  return std::tgamma((nu + 1.0) / 2.0) / std::tgamma(nu / 2.0) / std::sqrt(nu * std::numbers::pi);
}

// Probability that |T| exceeds t: the regularized incomplete beta I_x(nu / 2, 1 / 2) at x = nu / (nu + t^2)
// (Abramowitz & Stegun 1964, 26.7.1). Its prefactor x^a (1 - x)^b / (a B(a, b)) is 2 t / nu times the density
// at t.
double two_sided_tail(double nu, double t, double density) {
  const double x = nu / (nu + t * t);
  assert(x < (nu / 2.0 + 1.0) / (nu / 2.0 + 2.5));  // holds for every t >= 1.96
  return 2.0 * t / nu * density * beta_fraction(nu / 2.0, 0.5, x);
}

}  // namespace

double student_t_95(double degrees_of_freedom) {
  const double nu = degrees_of_freedom;
  assert(nu >= 1.0);
  if (nu > kManyDegrees) return quantile_of_many_degrees(nu);
  // The tail is a convex, falling function of t, and the normal's factor lies left of the root: Newton's
  // steps rise to it and never pass it, so they need no guard.
  const double f0 = density_at_zero(nu);
  double t = kNormal95;
  for (int step = 0; step < 50; ++step) {
    const double density = f0 * std::pow(1.0 + t * t / nu, -(nu + 1.0) / 2.0);
    const double rise = (two_sided_tail(nu, t, density) - kTail) / (2.0 * density);
    t += rise;
    if (std::abs(rise) < 1e-14 * t) break;
  }
  return t;
}

}  // namespace corefleck
