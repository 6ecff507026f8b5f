#pragma once

#include <cstdint>
#include <span>
#include <string>

namespace corefleck {

/// A zlib stream (RFC 1950) of the bytes, packed at the fastest level. Throws std::bad_alloc.
[[nodiscard]] std::string deflated(std::span<const std::uint8_t> bytes);

}  // namespace corefleck
