#include "ascii_text.hpp"

#include <fmt/format.h>

#include <cstddef>
#include <iterator>

namespace corefleck {
namespace {

constexpr char32_t kReplacement = 0xFFFD;

/// The character at `at`, which is moved past it.
char32_t next_character(std::string_view utf8, std::size_t& at) {
  const auto lead = static_cast<unsigned char>(utf8[at++]);
  const int following = lead >= 0xF0 ? 3 : lead >= 0xE0 ? 2 : lead >= 0xC0 ? 1 : -1;
  if (following < 0) return kReplacement;
  char32_t character = lead & (0x3FU >> following);
  for (int i = 0; i < following; ++i) {
    if (at >= utf8.size() || (static_cast<unsigned char>(utf8[at]) & 0xC0U) != 0x80U) return kReplacement;
    character = character << 6U | (static_cast<unsigned char>(utf8[at++]) & 0x3FU);
  }
  return character;
}

/// `write` appends a character that is not ASCII.
template <class Write>
std::string ascii(std::string_view utf8, const Write& write) {
  std::string text;
  text.reserve(utf8.size() + utf8.size() / 32);
  for (std::size_t at = 0; at < utf8.size();) {
    const std::size_t from = at;
    while (at < utf8.size() && static_cast<unsigned char>(utf8[at]) < 0x80) ++at;
    text.append(utf8.substr(from, at - from));
    if (at < utf8.size()) write(text, static_cast<unsigned>(next_character(utf8, at)));
  }
  return text;
}

}  // namespace

std::string ascii_markup(std::string_view utf8) {
  return ascii(utf8, [](std::string& text, unsigned character) {
    fmt::format_to(std::back_inserter(text), "&#{};", character);
  });
}

std::string ascii_script(std::string_view utf8) {
  return ascii(utf8, [](std::string& text, unsigned character) {
    if (character < 0x10000) {
      fmt::format_to(std::back_inserter(text), "\\u{:04x}", character);
      return;
    }
    const unsigned above = character - 0x10000;  // two of UTF-16, as the language counts
    fmt::format_to(
        std::back_inserter(text), "\\u{:04x}\\u{:04x}", 0xD800 + (above >> 10U), 0xDC00 + (above & 0x3FFU));
  });
}

std::string ascii_style(std::string_view utf8) {
  return ascii(utf8, [](std::string& text, unsigned character) {
    fmt::format_to(std::back_inserter(text), "\\{:x} ", character);
  });
}

}  // namespace corefleck
