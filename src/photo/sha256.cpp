#include "sha256.hpp"

#include <algorithm>
#include <array>

namespace corefleck {

std::string Sha256::hexadecimal() {
  constexpr std::string_view kDigits = "0123456789abcdef";
  std::array<std::uint8_t, SHA256_DIGEST_SIZE> digest{};
  sha256_digest(&state_, digest.size(), digest.data());
  std::string text;
  text.reserve(2 * digest.size());
  for (const unsigned byte : digest) {
    text += kDigits[byte >> 4U];
    text += kDigits[byte & 15U];
  }
  return text;
}

std::string sha256_of(const PhotoFile& file, const std::stop_token& stop) {
  std::array<std::uint8_t, 64 * 1024>
      piece;  // small enough to stay in the second-level cache beside the decoder's
  Sha256 digest;
  for (std::uintmax_t position = 0; position < file.size();) {
    if (stop.stop_requested()) return {};
    const std::size_t got = file.read_at(position, piece);
    if (got == 0) return {};
    digest.add(std::span(piece).first(got));
    position += got;
  }
  return digest.hexadecimal();
}

}  // namespace corefleck
