#pragma once

#include "corefleck/photo.hpp"

#include <cstdint>
#include <span>
#include <string>
#include <string_view>

namespace corefleck {

struct ExifFields {
  int orientation = 1;
  bool states_srgb = false;  ///< ColorSpace (0xA001) is 1
  CameraData camera;
};

/// Fields of an Exif block (a TIFF structure, without the leading "Exif"). A garbled block gives what can
/// still be read of it, down to nothing: metadata never makes a photo unreadable. Safe from several threads.
[[nodiscard]] ExifFields read_exif(std::span<const std::uint8_t> block) noexcept;

/// "2026:03:14 10:22:05" and "+02:00" or "" as "2026-03-14T10:22:05+02:00"; empty where it is no date and
/// time.
[[nodiscard]] std::string iso_time(std::string_view exif_time, std::string_view exif_offset);

/// Text from a file, safe to print and to write anywhere: printable ASCII in one line, others as '?',
/// trimmed.
[[nodiscard]] std::string plain_text(std::string_view text);

/// A camera's figure, empty unless it is a positive finite number: cameras write 0 for "not known".
[[nodiscard]] std::optional<double> positive(double number);

}  // namespace corefleck
