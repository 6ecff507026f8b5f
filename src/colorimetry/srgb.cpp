#include "corefleck/colorimetry.hpp"

#include <cmath>

namespace corefleck {

// IEC 61966-2-1:1999 with Amd 1:2003. The two thresholds are the standard's rounded ones, so the curve has a
// step of 1e-8 where its branches meet; exact thresholds would disagree with every other program in the last
// digits.
double srgb_to_linear(double encoded) {
  return encoded <= 0.04045 ? encoded / 12.92 : std::pow((encoded + 0.055) / 1.055, 2.4);
}

double linear_to_srgb(double linear) {
  return linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1.0 / 2.4) - 0.055;
}

}  // namespace corefleck
