#include "ascii_text.hpp"

#include <fmt/format.h>
#include <glib.h>

#include <cstddef>
#include <iterator>

namespace corefleck {
namespace {

/// The character at `at`, which is moved past it.
unsigned next_character(std::string_view utf8, std::size_t& at) {
  constexpr unsigned kReplacement = 0xFFFD;
  constexpr gunichar kNoCharacter = 0x80000000;  // GLib's -1 and -2 have that bit, no character has
  const gunichar character =
      g_utf8_get_char_validated(utf8.data() + at, static_cast<gssize>(utf8.size() - at));
  const bool valid = character < kNoCharacter;
  at += valid ? static_cast<std::size_t>(g_unichar_to_utf8(character, nullptr)) : 1;
  return valid ? character : kReplacement;
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
    if (at < utf8.size()) write(text, next_character(utf8, at));
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
