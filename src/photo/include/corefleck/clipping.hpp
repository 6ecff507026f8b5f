#pragma once

namespace corefleck {

/// Values of maps of clipping. Green holds seven tenths of a pixel's luminance: where only another channel
/// clips, because of the light's colour, the luminance is still measured. Between pixels the values are
/// interpolated: what lies above `colour` holds some of a pixel whose luminance clips.
enum class Clipping : unsigned char { none = 0, colour = 2, luminance = 255 };

}  // namespace corefleck
