#include "csv_cells.hpp"

#include "number_text.hpp"

#include "corefleck/utf8.hpp"

namespace corefleck {
namespace {

/// RFC 4180, 2.5 to 2.7: a field with a comma, a quote or a line break stands in quotes, its quotes doubled.
std::string field(const std::string& words) {
  if (words.find_first_of(",\"\r\n") == std::string::npos) return words;
  std::string quoted = "\"";
  for (const char c : words) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted += '"';
}

}  // namespace

Cell text_cell(std::string_view words) { return {valid_utf8(words), false}; }
Cell length_mm(double value) { return {fixed(value, 4), true}; }
Cell lightness_cell(double value) { return {fixed(value, 3), true}; }
Cell degrees(double value) { return {fixed(value, 3), true}; }
Cell plain(double value) { return {significant(value, 6), true}; }
Cell whole(int value) { return {fixed(value, 0), true}; }
Cell half_width(double u) { return plain(kCoverage95 * u); }

Cell length_mm(const std::optional<Millimetres>& value) {
  return value ? length_mm(value->number()) : Cell{};
}
Cell lightness_cell(const std::optional<Lightness>& value) {
  return value ? lightness_cell(value->number()) : Cell{};
}
Cell plain(const std::optional<double>& value) { return value ? plain(*value) : Cell{}; }

std::string csv_line(const std::vector<std::string>& fields) {
  std::string text_line;
  for (std::size_t i = 0; i < fields.size(); ++i) {
    if (i > 0) text_line += ',';
    text_line += field(fields[i]);
  }
  return text_line += "\r\n";
}

}  // namespace corefleck
