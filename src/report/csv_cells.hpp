#pragma once

#include "tables.hpp"

#include "corefleck/estimate.hpp"
#include "corefleck/quantity.hpp"

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace corefleck {

/// Cells of a table: as many digits as mean something, whatever the table.
[[nodiscard]] Cell text_cell(std::string_view words);
// Lengths to a tenth of a micrometre, lightness to a thousandth: both finer than any u95, coarse enough to
// read.
[[nodiscard]] Cell length_mm(double value);
[[nodiscard]] Cell length_mm(const std::optional<Millimetres>& value);
[[nodiscard]] Cell lightness_cell(double value);
[[nodiscard]] Cell lightness_cell(const std::optional<Lightness>& value);
[[nodiscard]] Cell degrees(double value);
[[nodiscard]] Cell plain(double value);
[[nodiscard]] Cell plain(const std::optional<double>& value);
[[nodiscard]] Cell whole(int value);
/// u95 of a standard uncertainty.
[[nodiscard]] Cell half_width(double u);

/// A line of RFC 4180, its line end included.
[[nodiscard]] std::string csv_line(const std::vector<std::string>& fields);

template <class Row>
[[nodiscard]] std::string csv_table(std::span<const Column<Row>> columns, const std::vector<Row>& rows) {
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

}  // namespace corefleck
