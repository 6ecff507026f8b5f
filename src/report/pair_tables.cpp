#include "pair_tables.hpp"

#include "csv_cells.hpp"
#include "table_json.hpp"

#include "corefleck/pair_report.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <nlohmann/json.hpp>

#include <array>
#include <cmath>

namespace corefleck {
namespace {

std::string ids(const std::vector<int>& list) { return fmt::format("{}", fmt::join(list, ";")); }

Cell area(const std::optional<SquareMillimetres>& value) { return value ? plain(value->number()) : Cell{}; }
template <class Q>
Cell value_of(const std::optional<Estimate<Q>>& estimate) {
  return estimate ? plain(estimate->value.number()) : Cell{};
}
template <class Q>
Cell u95_of(const std::optional<Estimate<Q>>& estimate) {
  return estimate ? half_width(estimate->u.number()) : Cell{};
}
Cell lightness_of(const std::optional<Estimate<Lightness>>& estimate) {
  return estimate ? lightness_cell(estimate->value.number()) : Cell{};
}

/// In %: how much longer the second photo's millimetre shows the same face than the first's.
Cell scale_difference(const Registration& registration) {
  return plain(100.0 * (std::sqrt(registration.first_to_second.area_ratio()) - 1.0));
}

template <ChangeKind Kind>
Cell count_of(const ChangesReport& r) {
  return whole(r.changes.count(Kind));
}

constexpr std::array kComparisonColumns{
    Column<ChangesReport>{"before_photo", [](const ChangesReport& r) { return text_cell(r.before.photo); }},
    Column<ChangesReport>{"after_photo", [](const ChangesReport& r) { return text_cell(r.after.photo); }},
    Column<ChangesReport>{
        "rotation_deg", [](const ChangesReport& r) { return degrees(r.changes.registration.rotation_deg); }},
    Column<ChangesReport>{
        "registration_rms_mm",
        [](const ChangesReport& r) { return length_mm(r.changes.registration.residual_mm); }},
    Column<ChangesReport>{"common_area_mm2",
                          [](const ChangesReport& r) { return plain(r.changes.common_area.number()); }},
    Column<ChangesReport>{"area_fraction_before_pct",
                          [](const ChangesReport& r) { return plain(r.changes.fraction_before.number()); }},
    Column<ChangesReport>{"area_fraction_after_pct",
                          [](const ChangesReport& r) { return plain(r.changes.fraction_after.number()); }},
    Column<ChangesReport>{
        "area_fraction_change_pct",
        [](const ChangesReport& r) { return plain(r.changes.fraction_change.value.number()); }},
    Column<ChangesReport>{
        "area_fraction_change_u95_pct",
        [](const ChangesReport& r) { return half_width(r.changes.fraction_change.u.number()); }},
    Column<ChangesReport>{"count_before",
                          [](const ChangesReport& r) { return whole(r.changes.count_before); }},
    Column<ChangesReport>{"count_after", [](const ChangesReport& r) { return whole(r.changes.count_after); }},
    Column<ChangesReport>{"new", count_of<ChangeKind::fresh>},
    Column<ChangesReport>{"grown", count_of<ChangeKind::grown>},
    Column<ChangesReport>{"steady", count_of<ChangeKind::steady>},
    Column<ChangesReport>{"shrunk", count_of<ChangeKind::shrunk>},
    Column<ChangesReport>{"gone", count_of<ChangeKind::gone>},
    Column<ChangesReport>{"merged", count_of<ChangeKind::merged>},
    Column<ChangesReport>{"split", count_of<ChangeKind::split>},
    Column<ChangesReport>{"unclear", count_of<ChangeKind::unclear>},
    Column<ChangesReport>{"unmeasured", count_of<ChangeKind::unmeasured>},
    Column<ChangesReport>{"registration_score",
                          [](const ChangesReport& r) { return plain(r.changes.registration.score); }},
    Column<ChangesReport>{"scale_difference_pct",
                          [](const ChangesReport& r) { return scale_difference(r.changes.registration); }},
};

constexpr std::array kChangeColumns{
    Column<SpotChange>{"change", [](const SpotChange& c) { return text_cell(name(c.kind)); }},
    Column<SpotChange>{"before_ids", [](const SpotChange& c) { return text_cell(ids(c.before_ids)); }},
    Column<SpotChange>{"after_ids", [](const SpotChange& c) { return text_cell(ids(c.after_ids)); }},
    Column<SpotChange>{"x_mm", [](const SpotChange& c) { return length_mm(c.x_mm); }},
    Column<SpotChange>{"y_mm", [](const SpotChange& c) { return length_mm(c.y_mm); }},
    Column<SpotChange>{"area_before_mm2", [](const SpotChange& c) { return area(c.area_before); }},
    Column<SpotChange>{"area_after_mm2", [](const SpotChange& c) { return area(c.area_after); }},
    Column<SpotChange>{"area_change_mm2", [](const SpotChange& c) { return value_of(c.area_change); }},
    Column<SpotChange>{"area_change_u95_mm2", [](const SpotChange& c) { return u95_of(c.area_change); }},
};

constexpr std::array kStateColumns{
    Column<StatesReport>{"dry_photo", [](const StatesReport& r) { return text_cell(r.dry.photo); }},
    Column<StatesReport>{"wet_photo", [](const StatesReport& r) { return text_cell(r.wet.photo); }},
    Column<StatesReport>{"rotation_deg",
                         [](const StatesReport& r) { return degrees(r.contrast.registration.rotation_deg); }},
    Column<StatesReport>{
        "registration_rms_mm",
        [](const StatesReport& r) { return length_mm(r.contrast.registration.residual_mm); }},
    Column<StatesReport>{"matrix_L_dry",
                         [](const StatesReport& r) { return lightness_cell(r.dry.figures->matrix_L); }},
    Column<StatesReport>{"matrix_L_wet",
                         [](const StatesReport& r) { return lightness_cell(r.wet.figures->matrix_L); }},
    Column<StatesReport>{"matrix_darkening_dL",
                         [](const StatesReport& r) { return lightness_of(r.contrast.darkening); }},
    Column<StatesReport>{"spot_L_dry",
                         [](const StatesReport& r) { return lightness_cell(r.dry.figures->spot_L); }},
    Column<StatesReport>{"spot_L_wet",
                         [](const StatesReport& r) { return lightness_cell(r.wet.figures->spot_L); }},
    Column<StatesReport>{"contrast_dL_dry",
                         [](const StatesReport& r) { return lightness_of(r.dry.figures->contrast_dL); }},
    Column<StatesReport>{"contrast_dL_wet",
                         [](const StatesReport& r) { return lightness_of(r.wet.figures->contrast_dL); }},
    Column<StatesReport>{"contrast_gain_dL",
                         [](const StatesReport& r) { return lightness_of(r.contrast.gain); }},
    Column<StatesReport>{"contrast_gain_u95", [](const StatesReport& r) { return u95_of(r.contrast.gain); }},
    Column<StatesReport>{"contrast_weber_dry",
                         [](const StatesReport& r) { return plain(r.dry.figures->contrast_weber); }},
    Column<StatesReport>{"contrast_weber_wet",
                         [](const StatesReport& r) { return plain(r.wet.figures->contrast_weber); }},
    Column<StatesReport>{"spots_both", [](const StatesReport& r) { return whole(r.contrast.both); }},
    Column<StatesReport>{"spots_dry_only", [](const StatesReport& r) { return whole(r.contrast.dry_only); }},
    Column<StatesReport>{"spots_wet_only", [](const StatesReport& r) { return whole(r.contrast.wet_only); }},
    Column<StatesReport>{"matrix_darkening_u95",
                         [](const StatesReport& r) { return u95_of(r.contrast.darkening); }},
    Column<StatesReport>{"gain_of_both_dL",
                         [](const StatesReport& r) { return lightness_of(r.contrast.gain_of_both); }},
    Column<StatesReport>{"gain_of_both_u95",
                         [](const StatesReport& r) { return u95_of(r.contrast.gain_of_both); }},
    Column<StatesReport>{"spots_unmeasured",
                         [](const StatesReport& r) { return whole(r.contrast.unmeasured); }},
    Column<StatesReport>{"registration_score",
                         [](const StatesReport& r) { return plain(r.contrast.registration.score); }},
    Column<StatesReport>{"scale_difference_pct",
                         [](const StatesReport& r) { return scale_difference(r.contrast.registration); }},
};

Cell gain_cell(const SpotStates& spot) {
  if (!spot.contrast_dry || !spot.contrast_wet) return {};
  return lightness_cell((*spot.contrast_wet - *spot.contrast_dry).number());
}

constexpr std::array kSpotStateColumns{
    Column<SpotStates>{"seen", [](const SpotStates& s) { return text_cell(seen_in(s)); }},
    Column<SpotStates>{"dry_ids", [](const SpotStates& s) { return text_cell(ids(s.dry_ids)); }},
    Column<SpotStates>{"wet_ids", [](const SpotStates& s) { return text_cell(ids(s.wet_ids)); }},
    Column<SpotStates>{"x_mm", [](const SpotStates& s) { return length_mm(s.x_mm); }},
    Column<SpotStates>{"y_mm", [](const SpotStates& s) { return length_mm(s.y_mm); }},
    Column<SpotStates>{"area_dry_mm2", [](const SpotStates& s) { return area(s.area_dry); }},
    Column<SpotStates>{"area_wet_mm2", [](const SpotStates& s) { return area(s.area_wet); }},
    Column<SpotStates>{"mean_L_dry", [](const SpotStates& s) { return lightness_cell(s.mean_L_dry); }},
    Column<SpotStates>{"mean_L_wet", [](const SpotStates& s) { return lightness_cell(s.mean_L_wet); }},
    Column<SpotStates>{"contrast_dL_dry", [](const SpotStates& s) { return lightness_cell(s.contrast_dry); }},
    Column<SpotStates>{"contrast_dL_wet", [](const SpotStates& s) { return lightness_cell(s.contrast_wet); }},
    Column<SpotStates>{"contrast_gain_dL", gain_cell},
    Column<SpotStates>{"contrast_weber_dry", [](const SpotStates& s) { return plain(s.weber_dry); }},
    Column<SpotStates>{"contrast_weber_wet", [](const SpotStates& s) { return plain(s.weber_wet); }},
    Column<SpotStates>{"both_measurable",
                       [](const SpotStates& s) { return text_cell(s.measurable ? "true" : "false"); }},
};

}  // namespace

std::string_view seen_in(const SpotStates& spot) {
  if (!spot.dry_ids.empty() && !spot.wet_ids.empty()) return "both";
  return spot.wet_ids.empty() ? "dry" : "wet";
}

std::span<const Column<ChangesReport>> comparison_columns() { return kComparisonColumns; }
std::span<const Column<SpotChange>> change_columns() { return kChangeColumns; }
std::span<const Column<StatesReport>> state_columns() { return kStateColumns; }
std::span<const Column<SpotStates>> spot_state_columns() { return kSpotStateColumns; }

std::string comparison_csv(const ChangesReport& report) { return csv_table(comparison_columns(), {report}); }
std::string comparison_json(const ChangesReport& report) {
  return row_json(comparison_columns(), report).dump(2) + "\n";
}
std::string changes_csv(const FaceChanges& changes) { return csv_table(change_columns(), changes.changes); }
std::string wetdry_csv(const StatesReport& report) { return csv_table(state_columns(), {report}); }
std::string wetdry_json(const StatesReport& report) {
  return row_json(state_columns(), report).dump(2) + "\n";
}
std::string wetdry_spots_csv(const StateContrast& contrast) {
  return csv_table(spot_state_columns(), contrast.spots);
}

}  // namespace corefleck
