#pragma once

#include <cstdint>
#include <span>
#include <string>

namespace corefleck {

enum class DeflateForm {
  whole_stream,  ///< with header and check sum (RFC 1950), complete in itself
  piece,         ///< bare blocks (RFC 1951) up to a byte's end, another piece may follow
  last_piece,
};

/// Deflate that looks for runs only. Label maps are nothing but runs, and the grain of a photo repeats
/// nowhere: a search for earlier matches costs five times the time there and saves a few percent.
/// Throws std::bad_alloc.
[[nodiscard]] std::string deflated(std::span<const std::uint8_t> bytes, DeflateForm form);

}  // namespace corefleck
