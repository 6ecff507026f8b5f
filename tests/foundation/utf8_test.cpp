#include "corefleck/utf8.hpp"

#include <catch2/catch.hpp>

using namespace corefleck;
using namespace std::string_literals;

namespace {

constexpr const char* kReplacement = "\xEF\xBF\xBD";

std::string replacements(std::size_t count) {
  std::string text;
  for (std::size_t i = 0; i < count; ++i) text += kReplacement;
  return text;
}

}  // namespace

TEST_CASE("UTF-8: well-formed text stays as it is", "[foundation]") {
  for (const auto* text : {"", "core-1.jpg", "Br\u00fccke \u6838.jpg", "\U0001F600", "\U0010FFFF"})
    CHECK(valid_utf8(text) == text);
}

TEST_CASE("UTF-8: bytes that are none are replaced, the rest of the name stays", "[foundation]") {
  CHECK(valid_utf8("Br\xFC"
                   "cke") == "Br"s + kReplacement + "cke");
  CHECK(valid_utf8("a\0b"s) == "a"s + kReplacement + "b");
}

// Unicode 15, table 3-7.
TEST_CASE("UTF-8: overlong forms, surrogates and what lies beyond U+10FFFF are replaced byte by byte",
          "[foundation]") {
  for (const auto& bytes : {"\xC0\xAF"s, "\xE0\x80\xAF"s, "\xED\xA0\x80"s, "\xF4\x90\x80\x80"s, "\xE2\x82"s})
    CHECK(valid_utf8(bytes) == replacements(bytes.size()));
}
