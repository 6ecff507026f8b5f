#pragma once

#include "record_parts.hpp"
#include "tables.hpp"

#include <span>
#include <vector>

namespace corefleck {

/// A table as the scripts of a page read it, cells with the digits of the CSV: {"columns": [...], "rows":
/// [[...], ...]}.
template <class Row>
[[nodiscard]] Json table_json(std::span<const Column<Row>> columns, const std::vector<Row>& rows) {
  Json names = Json::array(), cells = Json::array();
  for (const auto& column : columns) names.push_back(column.name);
  for (const Row& row : rows) {
    Json list = Json::array();
    for (const auto& column : columns) list.push_back(json_of(column.cell(row)));
    cells.push_back(std::move(list));
  }
  return {{"columns", std::move(names)}, {"rows", std::move(cells)}};
}

/// One row by its columns.
template <class Row>
[[nodiscard]] Json row_json(std::span<const Column<Row>> columns, const Row& row) {
  Json object = Json::object();
  for (const auto& column : columns) object[std::string(column.name)] = json_of(column.cell(row));
  return object;
}

}  // namespace corefleck
