#pragma once

#include "photo_file.hpp"

#include <nettle/sha2.h>

#include <cstdint>
#include <span>
#include <stop_token>
#include <string>

namespace corefleck {

/// SHA-256 (FIPS 180-4), fed piece by piece.
class Sha256 {
 public:
  Sha256() { sha256_init(&state_); }
  void add(std::span<const std::uint8_t> bytes) { sha256_update(&state_, bytes.size(), bytes.data()); }
  /// Lower-case hexadecimal; starts anew.
  [[nodiscard]] std::string hexadecimal();

 private:
  sha256_ctx state_{};
};

/// Digest of the whole file; empty where `stop` was requested or the device failed.
[[nodiscard]] std::string sha256_of(const PhotoFile& file, const std::stop_token& stop);

}  // namespace corefleck
