#include "corefleck/colorimetry.hpp"

#include <cassert>
#include <cmath>

namespace corefleck {
namespace {

// CIE 1976 L* (ISO/CIE 11664-4). Exact fractions of (6/29)^3 and (29/3)^3: both branches give 8 where they
// meet. The common rounded ones (0.008856, 903.3) leave a step there.
constexpr double kBreak = 216.0 / 24389.0;
constexpr double kSlope = 24389.0 / 27.0;
constexpr double kLightnessAtBreak = 8.0;

// X and Z rows, and the white that they add up to, to the same seven digits as kLuminanceOfSrgb: solved from
// the BT.709 primaries and the white.
constexpr std::array<double, 3> kXOfSrgb{0.4124564, 0.3575761, 0.1804375};
constexpr std::array<double, 3> kZOfSrgb{0.0193339, 0.1191920, 0.9503041};
constexpr double kWhiteX = 0.95047, kWhiteZ = 1.08883;

double f(double t) { return t > kBreak ? std::cbrt(t) : (kSlope * t + 16.0) / 116.0; }

double weighted_sum(const std::array<double, 3>& weights, const std::array<double, 3>& rgb) {
  return weights[0] * rgb[0] + weights[1] * rgb[1] + weights[2] * rgb[2];
}

}  // namespace

Lightness lightness(double relative_luminance) {
  assert(relative_luminance >= 0.0);
  // On the straight branch 116 f - 16 is kSlope Y, written out so that black is exactly 0.
  return Lightness{relative_luminance > kBreak ? 116.0 * std::cbrt(relative_luminance) - 16.0
                                               : kSlope * relative_luminance};
}

double relative_luminance(Lightness lightness) {
  const double L = lightness.number();
  assert(L >= 0.0);
  if (L <= kLightnessAtBreak) return L / kSlope;
  const double fy = (L + 16.0) / 116.0;
  return fy * fy * fy;
}

std::array<double, 3> xyz_of_linear_srgb(const std::array<double, 3>& rgb) {
  return {weighted_sum(kXOfSrgb, rgb), weighted_sum(kLuminanceOfSrgb, rgb), weighted_sum(kZOfSrgb, rgb)};
}

Lab lab_of_linear_srgb(const std::array<double, 3>& rgb) {
  const auto [X, Y, Z] = xyz_of_linear_srgb(rgb);
  const double fx = f(X / kWhiteX), fy = f(Y), fz = f(Z / kWhiteZ);
  return {116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)};
}

double weber_contrast(double luminance, double ground_luminance) {
  assert(ground_luminance > 0.0);
  return (luminance - ground_luminance) / ground_luminance;
}

}  // namespace corefleck
