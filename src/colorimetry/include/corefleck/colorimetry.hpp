#pragma once

#include "corefleck/quantity.hpp"

#include <array>

namespace corefleck {

/// colorimetry: published formulas from linear light to lightness and colour difference. No image, no file.

/// IEC 61966-2-1 decoding: encoded value in [0, 1] to linear light in [0, 1].
[[nodiscard]] double srgb_to_linear(double encoded);
/// IEC 61966-2-1 encoding: linear light in [0, 1] to encoded value in [0, 1].
[[nodiscard]] double linear_to_srgb(double linear);

/// Luminance of linear sRGB (BT.709 primaries, D65 white with XYZ 0.95047 1 1.08883): the middle row of its
/// matrix.
inline constexpr std::array<double, 3> kLuminanceOfSrgb{0.2126729, 0.7151522, 0.0721750};

/// Luminance of a colour in linear sRGB.
[[nodiscard]] constexpr double luminance(const std::array<double, 3>& linear_rgb) {
  return kLuminanceOfSrgb[0] * linear_rgb[0] + kLuminanceOfSrgb[1] * linear_rgb[1] +
         kLuminanceOfSrgb[2] * linear_rgb[2];
}

/// CIE 1976 lightness (ISO/CIE 11664-4) of a luminance relative to the perfect diffuser, Y >= 0.
[[nodiscard]] Lightness lightness(double relative_luminance);
/// The inverse: relative luminance of a lightness.
[[nodiscard]] double relative_luminance(Lightness lightness);

/// CIE XYZ, D65, 2 degrees, Y of white = 1; seven-digit matrix whose middle row is kLuminanceOfSrgb.
[[nodiscard]] std::array<double, 3> xyz_of_linear_srgb(const std::array<double, 3>& rgb);

/// CIE 1976 L*a*b* (ISO/CIE 11664-4), D65, 2 degrees.
struct Lab {
  double L, a, b;
};
[[nodiscard]] Lab lab_of_linear_srgb(const std::array<double, 3>& rgb);

/// Colour difference CIEDE2000 (ISO/CIE 11664-6), kL = kC = kH = 1. The same in both orders. Hues half a turn
/// apart, to 1e-9 degrees, count as <= 180 degrees apart (the formula jumps there).
[[nodiscard]] double ciede2000(const Lab& first, const Lab& second);

/// (Y - Y_ground) / Y_ground, both linear luminances, Y_ground > 0.
[[nodiscard]] double weber_contrast(double luminance, double ground_luminance);

}  // namespace corefleck
