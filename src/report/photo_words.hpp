#pragma once

#include "corefleck/photo.hpp"

#include <string>

namespace corefleck {

/// "taken 2026-03-14 09:12:05", or that the date is not recorded. As the file has it: bytes of any kind.
[[nodiscard]] std::string taken_words(const Photo& photo);
/// What a title says of a photo's file after other words: separator and the head of its hash; nothing where
/// it has none.
[[nodiscard]] std::string hash_words(const Photo& photo);

}  // namespace corefleck
