#pragma once

namespace corefleck {

/// Values of maps of clipping. Green holds seven tenths of a pixel's luminance: where only another channel
/// clips, because of the light's colour, the luminance is still measured.
enum class Clipping : unsigned char { none = 0, colour = 2, luminance = 255 };

}  // namespace corefleck
