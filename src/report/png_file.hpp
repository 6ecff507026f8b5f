#pragma once

#include "corefleck/error.hpp"

#include <cstdint>
#include <string>

namespace corefleck {

/// Pixels as Cairo keeps them: 32 bits each, blue, green, red, unused.
struct PagePixels {
  const std::uint8_t* first;
  int width_px, height_px, stride_bytes;
};

/// Bytes of an 8-bit RGB PNG with its physical size (pHYs).
[[nodiscard]] Result<std::string> png_of(const PagePixels& page, double px_per_metre);

}  // namespace corefleck
