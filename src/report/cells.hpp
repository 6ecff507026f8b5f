#pragma once

#include "corefleck/estimate.hpp"
#include "corefleck/quantity.hpp"

#include <nlohmann/json.hpp>

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace corefleck {

/// One cell: its text as it stands in the CSV; empty = not measured.
struct Cell {
  std::string text;
  bool is_number = false;
};

template <class Row>
struct Column {
  std::string_view name;
  Cell (*cell)(const Row&);
};

[[nodiscard]] Cell text(std::string_view words);
[[nodiscard]] Cell length_mm(double value);
[[nodiscard]] Cell length_mm(const std::optional<Millimetres>& value);
[[nodiscard]] Cell lightness_cell(double value);
[[nodiscard]] Cell lightness_cell(const std::optional<Lightness>& value);
[[nodiscard]] Cell degrees(double value);
/// Six significant digits.
[[nodiscard]] Cell plain(double value);
[[nodiscard]] Cell plain(const std::optional<double>& value);
[[nodiscard]] Cell whole(int value);
/// u95 of a standard uncertainty.
[[nodiscard]] Cell half_width(double u);

/// One line of a CSV file, its end included (RFC 4180).
[[nodiscard]] std::string csv_line(const std::vector<std::string>& fields);

/// Text of a CSV file, header included.
template <class Row>
[[nodiscard]] std::string csv_table(std::span<const Column<Row>> columns, std::span<const Row> rows) {
  std::vector<std::string> fields;
  for (const auto& column : columns) fields.emplace_back(column.name);
  std::string csv = csv_line(fields);
  for (const Row& row : rows) {
    fields.clear();
    for (const auto& column : columns) fields.push_back(column.cell(row).text);
    csv += csv_line(fields);
  }
  return csv;
}

/// The cell as JSON: the very digits of the CSV as a number, so that the two files cannot disagree; null when
/// empty.
[[nodiscard]] nlohmann::ordered_json json_of(const Cell& cell);

}  // namespace corefleck
