#pragma once

#include "decoding.hpp"

#include "corefleck/photo.hpp"

#include <vector>

namespace corefleck {

/// sRGB decoding of IEC 61966-2-1: encoded value in [0, 1] to linear light in [0, 1].
[[nodiscard]] double srgb_to_linear(double encoded);

/// Sets `samples`, `decode`, `to_srgb_linear` and `colour_space` of a photo from what its file held.
///   matrix profiles     one curve a channel and the matrix from the profile's colorants to sRGB's
///   table profiles      converted once to 16-bit linear sRGB (relative colorimetric; what lies outside sRGB
///   is cut off) grey profiles       one curve none, or unusable   sRGB, unless a PNG states another
///   exponent; `colour_space` says which
void give_linear_light(DecodedFile&& file, Photo& photo);

}  // namespace corefleck
