#pragma once

#include "corefleck/report.hpp"

#include <nlohmann/json.hpp>

#include <span>
#include <string>
#include <string_view>

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

/// The figures of summary.csv, in its order: what a failed row leaves empty.
[[nodiscard]] std::span<const Column<FaceMeasurement>> figure_columns();

/// The columns of spots.csv and sizes.csv, in their order.
[[nodiscard]] std::span<const Column<SpotFigures>> spot_columns();
[[nodiscard]] std::span<const Column<SizeClass>> size_columns();

/// The cell as JSON: the very digits of the CSV as a number, so that the two files cannot disagree; null when
/// empty.
[[nodiscard]] nlohmann::ordered_json json_of(const Cell& cell);

/// "dry", "wet" or "unknown".
[[nodiscard]] std::string_view name(FaceState state);

}  // namespace corefleck
