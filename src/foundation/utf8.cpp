#include "corefleck/utf8.hpp"

#include <cstddef>

namespace corefleck {
namespace {

unsigned byte_at(std::string_view bytes, std::size_t at) { return static_cast<unsigned char>(bytes[at]); }

/// Smallest and largest second byte that may follow `lead` (Unicode 15, table 3-7): shuts out overlong forms,
/// surrogates and what lies beyond U+10FFFF.
struct SecondByte {
  unsigned from, to;
};
SecondByte second_byte_after(unsigned lead) {
  switch (lead) {
    case 0xE0:
      return {0xA0, 0xBF};
    case 0xED:
      return {0x80, 0x9F};
    case 0xF0:
      return {0x90, 0xBF};
    case 0xF4:
      return {0x80, 0x8F};
    default:
      return {0x80, 0xBF};
  }
}

std::size_t length_by_lead(unsigned lead) {
  if (lead < 0x80) return 1;
  if (lead >= 0xC2 && lead <= 0xDF) return 2;
  if (lead >= 0xE0 && lead <= 0xEF) return 3;
  if (lead >= 0xF0 && lead <= 0xF4) return 4;
  return 0;
}

/// Length of the well-formed character that starts here, or 0.
std::size_t character_length(std::string_view bytes, std::size_t at) {
  const unsigned lead = byte_at(bytes, at);
  const std::size_t length = length_by_lead(lead);
  if (length == 0 || at + length > bytes.size()) return 0;
  for (std::size_t i = 1; i < length; ++i) {
    const SecondByte range = i == 1 ? second_byte_after(lead) : SecondByte{0x80, 0xBF};
    const unsigned byte = byte_at(bytes, at + i);
    if (byte < range.from || byte > range.to) return 0;
  }
  return length;
}

}  // namespace

std::string valid_utf8(std::string_view bytes) {
  std::string text;
  text.reserve(bytes.size());
  for (std::size_t at = 0; at < bytes.size();) {
    const std::size_t length = character_length(bytes, at);
    if (length == 0) {
      text += "\xEF\xBF\xBD";
      ++at;
    } else {
      text += bytes.substr(at, length);
      at += length;
    }
  }
  return text;
}

}  // namespace corefleck
