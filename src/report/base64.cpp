#include "base64.hpp"

#include <cstdint>

namespace corefleck {

std::string base64(std::string_view bytes) {
  constexpr std::string_view kDigits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string text((bytes.size() + 2) / 3 * 4, '=');
  const auto byte = [&](std::size_t i) {
    return i < bytes.size() ? static_cast<std::uint32_t>(static_cast<unsigned char>(bytes[i])) : 0U;
  };
  std::size_t to = 0;
  for (std::size_t i = 0; i < bytes.size(); i += 3, to += 4) {
    const std::uint32_t group = byte(i) << 16U | byte(i + 1) << 8U | byte(i + 2);
    text[to] = kDigits[group >> 18U];
    text[to + 1] = kDigits[group >> 12U & 63U];
    if (i + 1 < bytes.size()) text[to + 2] = kDigits[group >> 6U & 63U];
    if (i + 2 < bytes.size()) text[to + 3] = kDigits[group & 63U];
  }
  return text;
}

}  // namespace corefleck
