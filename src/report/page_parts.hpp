#pragma once

#include "page_shell.hpp"

#include "corefleck/report.hpp"

#include <span>
#include <string>

namespace corefleck {

/// Sections that the report page of any command can hold, for each face that it measured. Where a page shows
/// several faces, they are parts of one section, and whoever puts them there gives each its own id and title.

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
/// A difference or a rate, which is read with its sign: a plus in front where what is shown is above 0.
[[nodiscard]] Json shown_difference(const ShownFigure& figure, const Json& figures);

[[nodiscard]] PageSection figures_section(const MeasuredFace& measured);
[[nodiscard]] PageSection cautions_section(const FaceMeasurement& figures);
/// Budgets of all figures, or of one alone.
[[nodiscard]] PageSection uncertainty_section(const FaceMeasurement& figures, std::string_view figure = {});
[[nodiscard]] PageSection calibration_section(const MeasuredFace& measured);
/// `note`: where the rest of the record stands.
[[nodiscard]] PageSection identity_section(const MeasuredFace& measured,
                                           const RecordContext& context,
                                           std::string_view note);
/// Place for the plots that the scripts draw. `note` says what they show; `files` are those that hold their
/// figures, "spots.csv holds".
[[nodiscard]] PageSection plots_section(std::string id,
                                        std::string title,
                                        std::string_view note,
                                        std::string_view files);

/// A name and what it is: a line of `facts.mustache`.
struct Fact {
  std::string name, value;
};
[[nodiscard]] Json facts_json(const std::vector<Fact>& facts);
/// Every option in force, as it is read.
[[nodiscard]] Json options_json(const RecordContext& context);

/// What head.mustache says of this many cautions.
void add_caution_count(Json& head, std::size_t cautions);

inline constexpr int kPagePictureQuality = 84;

/// A file in a folder beside the page as a link, whatever characters the folder's name has.
[[nodiscard]] std::string link_to(const std::string& folder, std::string_view file);

/// "Photograph again" for "photograph again".
[[nodiscard]] std::string capitalised(std::string words);

}  // namespace corefleck
