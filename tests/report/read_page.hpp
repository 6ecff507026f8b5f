#pragma once

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

/// How many times a text holds a part.
inline std::size_t count_of(const std::string& text, const std::string& part) {
  std::size_t count = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++count;
  return count;
}

}  // namespace corefleck::testing
