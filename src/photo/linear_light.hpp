#pragma once

#include "decoding.hpp"

#include "corefleck/photo.hpp"

#include <vector>

namespace corefleck {

/// Sets `samples`, `decode`, `to_srgb_linear` and `colour_space` of a photo from what its file held.
///   matrix profiles     one curve a channel and the matrix from the profile's colorants to sRGB's
///   table profiles      converted once to 16-bit linear sRGB (relative colorimetric; what lies outside sRGB
///   is cut off) grey profiles       one curve none, or unusable   sRGB, unless a PNG states another
///   exponent; `colour_space` says which
void give_linear_light(DecodedFile&& file, Photo& photo);

}  // namespace corefleck
