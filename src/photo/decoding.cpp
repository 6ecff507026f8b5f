#include "decoding.hpp"

#include "exif.hpp"

#include <fmt/format.h>

namespace corefleck {

std::optional<MeasureError> size_refusal(std::uint64_t width_px,
                                         std::uint64_t height_px,
                                         const PhotoLimits& limits) {
  constexpr std::uint64_t kLongestSide = 1'000'000;  // libpng's own limit; no camera or scanner is near it
  if (width_px == 0 || height_px == 0 || width_px > kLongestSide || height_px > kLongestSide)
    return MeasureError{ErrorCode::unreadable_photo,
                        fmt::format("has an impossible size, {} x {} pixels", width_px, height_px),
                        "the file is damaged: copy it again from the camera"};
  const double megapixels = 1e-6 * static_cast<double>(width_px) * static_cast<double>(height_px);
  if (megapixels <= limits.max_megapixels) return std::nullopt;
  return MeasureError{ErrorCode::photo_too_large,
                      fmt::format("has {:.1f} megapixels ({} x {}), more than the limit of {:g}",
                                  megapixels,
                                  width_px,
                                  height_px,
                                  limits.max_megapixels),
                      "raise the limit with --max-megapixels, or export the photo smaller"};
}

MeasureError truncated_refusal() {
  return {ErrorCode::unreadable_photo,
          "is truncated: the file ends before the picture does",
          "copy it again from the camera"};
}

MeasureError damaged_refusal(const char* library_message) {
  const std::string said = plain_text(library_message);
  return {ErrorCode::unreadable_photo,
          said.empty() ? std::string("is damaged") : fmt::format("is damaged ({})", said),
          "copy it again from the camera, or save it anew as JPEG or TIFF"};
}

MeasureError transparent_refusal() {
  return {ErrorCode::unreadable_photo,
          "is fully transparent in every pixel",
          "save it anew without transparency"};
}

}  // namespace corefleck
