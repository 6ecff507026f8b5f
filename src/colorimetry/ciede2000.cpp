#include "corefleck/colorimetry.hpp"

#include <cmath>
#include <numbers>

namespace corefleck {
namespace {

// Letters, primes dropped, and equation numbers of Sharma, Wu, Dalal 2005 (Color Res. Appl. 30(1) 21-30).

// Two hues half a turn apart belong to the plain-mean branch of eq. 10 and 14, but one rounding of atan2
// throws them into the other (pair 10 of the published table: 7.1792 becomes 7.2195). Hence a tolerance, far
// above rounding and far below anything that a photo can tell apart.
constexpr double kHalfTurn_deg = 180.0 + 1e-9;

double radians(double degrees) { return degrees * std::numbers::pi / 180.0; }

double power_7(double x) {
  const double cube = x * x * x;
  return cube * cube * x;
}

// sqrt(C^7 / (C^7 + 25^7)): near 0 for greys, near 1 for saturated colours.
double saturation(double chroma) {
  const double c7 = power_7(chroma);
  return std::sqrt(c7 / (c7 + power_7(25.0)));
}

// eq. 7, in [0, 360); a grey has hue 0.
double hue_deg(double a, double b) {
  if (a == 0.0 && b == 0.0) return 0.0;
  const double h = std::atan2(b, a) * 180.0 / std::numbers::pi;
  return h < 0.0 ? h + 360.0 : h;
}

// eq. 10
double hue_difference_deg(double h1, double h2) {
  const double difference = h2 - h1;
  if (std::abs(difference) <= kHalfTurn_deg) return difference;
  return difference > 0.0 ? difference - 360.0 : difference + 360.0;
}

// eq. 14
double mean_hue_deg(double h1, double h2) {
  const double sum = h1 + h2;
  if (std::abs(h1 - h2) <= kHalfTurn_deg) return sum / 2.0;
  return sum < 360.0 ? (sum + 360.0) / 2.0 : (sum - 360.0) / 2.0;
}

}  // namespace

double ciede2000(const Lab& first, const Lab& second) {
  // eq. 2 to 7: stretch a so that greys are judged as the eye does, then go to chroma and hue.
  const double mean_chroma_ab = (std::hypot(first.a, first.b) + std::hypot(second.a, second.b)) / 2.0;
  const double stretch = 1.0 + 0.5 * (1.0 - saturation(mean_chroma_ab));
  const double a1 = stretch * first.a, a2 = stretch * second.a;
  const double C1 = std::hypot(a1, first.b), C2 = std::hypot(a2, second.b);
  const double h1 = hue_deg(a1, first.b), h2 = hue_deg(a2, second.b);

  // eq. 8 to 11. With a grey, sqrt(C1 C2) is 0 and so is dH, whatever its hue.
  const double dL = second.L - first.L;
  const double dC = C2 - C1;
  const double dH = 2.0 * std::sqrt(C1 * C2) * std::sin(radians(hue_difference_deg(h1, h2) / 2.0));

  // eq. 12 to 14; a grey has no say in the mean hue.
  const double L = (first.L + second.L) / 2.0;
  const double C = (C1 + C2) / 2.0;
  const double h = C1 * C2 == 0.0 ? h1 + h2 : mean_hue_deg(h1, h2);

  // eq. 15 to 21
  const double T = 1.0 - 0.17 * std::cos(radians(h - 30.0)) + 0.24 * std::cos(radians(2.0 * h)) +
                   0.32 * std::cos(radians(3.0 * h + 6.0)) - 0.20 * std::cos(radians(4.0 * h - 63.0));
  const double from_blue = (h - 275.0) / 25.0;
  const double turn = 30.0 * std::exp(-from_blue * from_blue);
  const double from_grey_squared = (L - 50.0) * (L - 50.0);
  const double SL = 1.0 + 0.015 * from_grey_squared / std::sqrt(20.0 + from_grey_squared);
  const double SC = 1.0 + 0.045 * C;
  const double SH = 1.0 + 0.015 * C * T;
  const double RT = -std::sin(radians(2.0 * turn)) * 2.0 * saturation(C);

  // eq. 22
  const double l = dL / SL, c = dC / SC, hh = dH / SH;
  return std::sqrt(l * l + c * c + hh * hh + RT * c * hh);
}

}  // namespace corefleck
