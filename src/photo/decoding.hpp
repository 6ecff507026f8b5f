#pragma once

#include "photo_file.hpp"

#include "corefleck/error.hpp"
#include "corefleck/photo.hpp"

#include <opencv2/core.hpp>

#include <csetjmp>
#include <cstdint>
#include <cstdio>
#include <optional>
#include <vector>

namespace corefleck {

/// What a file holds, before its codes are given a meaning in light.
struct DecodedFile {
  cv::Mat samples;  ///< upright, as in Photo
  int orientation = 1;
  CameraData camera;
  std::vector<std::uint8_t> icc_profile;  ///< empty where none is embedded
  bool states_srgb = false;               ///< the file says itself that its codes are sRGB
  /// Exponent of the encoding where the file states one and nothing better: code = light^exponent.
  std::optional<double> encoding_exponent;
};

// One for each kind of file; errors are without the file's name, which read_photo puts before them.
[[nodiscard]] Result<DecodedFile> decode_jpeg(const PhotoFile& file, const PhotoLimits& limits);
[[nodiscard]] Result<DecodedFile> decode_png(const PhotoFile& file, const PhotoLimits& limits);
[[nodiscard]] Result<DecodedFile> decode_tiff(const PhotoFile& file, const PhotoLimits& limits);

/// Why a photo of this size is not decoded, if it is not. Asked before anything is allocated.
[[nodiscard]] std::optional<MeasureError> size_refusal(std::uint64_t width_px,
                                                       std::uint64_t height_px,
                                                       const PhotoLimits& limits);
[[nodiscard]] MeasureError truncated_refusal();
/// library_message: what the decoding library said, or "".
[[nodiscard]] MeasureError damaged_refusal(const char* library_message);
[[nodiscard]] MeasureError transparent_refusal();

/// Landing place for C libraries that report errors by never returning. Holds no object with a destructor.
struct Trap {
  std::jmp_buf landing{};
  char message[200] = "";
  bool truncated = false;

  [[noreturn]] void spring() { std::longjmp(landing, 1); }
};

/// Runs `body`, which calls the library; false if the library sprang the trap. The jump leaves `body` in the
/// middle, so `body` must own nothing: no object with a destructor, no allocation of its own.
template <class Body>
[[nodiscard]] bool completes(Trap& trap, Body&& body) {
  if (setjmp(trap.landing) != 0) return false;
  body();
  return true;
}

}  // namespace corefleck
