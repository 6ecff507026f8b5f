#pragma once

#include "page_shell.hpp"

#include "corefleck/report.hpp"

#include <span>
#include <string>

namespace corefleck {

/// Sections that the report page of any command can hold, for each face that it measured. `prefix` goes
/// before the anchor where a page shows several faces.

/// How a figure is read on the page: its column, its words, and its digits.
struct ShownFigure {
  std::string_view column;
  std::string_view label, unit;
  int decimals;                      ///< where there is no u95 to tell them
  std::string_view u95_column = {};  ///< of the half-width, if it has one
};
[[nodiscard]] std::span<const ShownFigure> shown_figures();

/// Every figure of summary.csv by its column, null = not measured.
[[nodiscard]] Json figures_json(const FaceMeasurement& figures);
/// A figure of `figures_json` as it is read: {"value", "u95", "unit"}; "–" where not measured.
[[nodiscard]] Json shown(const ShownFigure& figure, const Json& figures);

[[nodiscard]] PageSection figures_section(const MeasuredFace& measured);
[[nodiscard]] PageSection cautions_section(const FaceMeasurement& figures);
[[nodiscard]] PageSection uncertainty_section(const FaceMeasurement& figures);
[[nodiscard]] PageSection calibration_section(const MeasuredFace& measured);
[[nodiscard]] PageSection identity_section(const MeasuredFace& measured, const RecordContext& context);

/// "Photograph again" for "photograph again".
[[nodiscard]] std::string capitalised(std::string words);

}  // namespace corefleck
