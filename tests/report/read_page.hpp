#pragma once

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <cstddef>
#include <string>

namespace corefleck::testing {

/// What a page gives its scripts to read.
inline nlohmann::json island_of(const std::string& html) {
  const std::string start = "id=\"island\">";
  const std::size_t from = html.find(start) + start.size();
  return nlohmann::json::parse(html.substr(from, html.find("</script>", from) - from));
}

/// A page's markup with the characters that stand in it as numbers (&#916;), as a browser reads them.
inline std::string as_read(const std::string& html) {
  std::string text;
  std::size_t at = 0;
  for (std::size_t mark = html.find("&#"); mark != std::string::npos; mark = html.find("&#", at)) {
    const std::size_t end = html.find(';', mark);
    const auto number = static_cast<unsigned>(std::stoul(html.substr(mark + 2, end - mark - 2)));
    text.append(html, at, mark - at);
    text += nlohmann::json::parse(fmt::format("\"\\u{:04x}\"", number)).get<std::string>();
    at = end + 1;
  }
  return text.append(html, at);
}

/// How many times a text holds a part.
inline std::size_t count_of(const std::string& text, const std::string& part) {
  std::size_t count = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++count;
  return count;
}

}  // namespace corefleck::testing
