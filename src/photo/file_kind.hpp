#pragma once

#include "corefleck/error.hpp"

#include <cstdint>
#include <span>

namespace corefleck {

enum class FileKind { jpeg, png, tiff };

/// As many of a file's first bytes as `file_kind` looks at.
inline constexpr std::size_t kMagicBytes = 32;

/// Kind by the first bytes, never by the file's name: cameras and mail programs write wrong extensions.
/// Fails with `unreadable_photo`, naming the kind where it is a known one, and the way to a kind that is
/// read.
[[nodiscard]] Result<FileKind> file_kind(std::span<const std::uint8_t> first_bytes);

/// Refusal of a camera's raw file, also for those that pass as TIFF until their tags are read.
[[nodiscard]] MeasureError camera_raw_refusal();

}  // namespace corefleck
