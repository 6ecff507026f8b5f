#include "tables.hpp"

#include "csv_cells.hpp"

#include <array>
#include <optional>

namespace corefleck {
namespace {

using Figures = FaceMeasurement;

double scale_u_pct(const Figures& f) { return 100.0 * f.scale.u.number() / f.scale.value.number(); }

constexpr std::array kFigureColumns{
    Column<Figures>{"mm_per_px", [](const Figures& f) { return plain(f.scale.value.number()); }},
    Column<Figures>{"scale_u95_pct", [](const Figures& f) { return half_width(scale_u_pct(f)); }},
    Column<Figures>{"tilt_deg", [](const Figures& f) { return degrees(f.tilt_deg); }},
    Column<Figures>{"core_diameter_mm",
                    [](const Figures& f) { return length_mm(f.core_diameter.value.number()); }},
    Column<Figures>{"face_area_mm2", [](const Figures& f) { return plain(f.face_area.number()); }},
    Column<Figures>{"measured_area_mm2", [](const Figures& f) { return plain(f.measured_area.number()); }},
    Column<Figures>{"glare_pct", [](const Figures& f) { return plain(f.glare_pct); }},
    Column<Figures>{"spot_count", [](const Figures& f) { return whole(f.spot_count); }},
    Column<Figures>{"spot_density_per_cm2", [](const Figures& f) { return plain(f.spot_density_per_cm2); }},
    Column<Figures>{"spot_area_mm2", [](const Figures& f) { return plain(f.spot_area.number()); }},
    Column<Figures>{"area_fraction_pct",
                    [](const Figures& f) { return plain(f.area_fraction.value.number()); }},
    Column<Figures>{"area_fraction_u95_pct",
                    [](const Figures& f) { return half_width(f.area_fraction.u.number()); }},
    Column<Figures>{"ecd_d10_mm", [](const Figures& f) { return length_mm(f.ecd_d10); }},
    Column<Figures>{"ecd_d50_mm", [](const Figures& f) { return length_mm(f.ecd_d50); }},
    Column<Figures>{"ecd_d90_mm", [](const Figures& f) { return length_mm(f.ecd_d90); }},
    Column<Figures>{"ecd_max_mm", [](const Figures& f) { return length_mm(f.ecd_max); }},
    Column<Figures>{"matrix_L", [](const Figures& f) { return lightness_cell(f.matrix_L); }},
    Column<Figures>{"spot_L", [](const Figures& f) { return lightness_cell(f.spot_L); }},
    Column<Figures>{"contrast_dL",
                    [](const Figures& f) {
                      return f.contrast_dL ? lightness_cell(f.contrast_dL->value.number()) : Cell{};
                    }},
    Column<Figures>{
        "contrast_dL_u95",
        [](const Figures& f) { return f.contrast_dL ? half_width(f.contrast_dL->u.number()) : Cell{}; }},
    Column<Figures>{"contrast_weber", [](const Figures& f) { return plain(f.contrast_weber); }},
    Column<Figures>{"contrast_dE00", [](const Figures& f) { return plain(f.contrast_dE00); }},
    Column<Figures>{"pit_count", [](const Figures& f) { return whole(f.pit_count); }},
    Column<Figures>{"pit_area_fraction_pct", [](const Figures& f) { return plain(f.pit_area_fraction_pct); }},
};

std::string_view status(const SummaryRow& row) {
  if (!row.figures) return "failed";
  return row.figures->cautions.empty() ? "ok" : "caution";
}

std::string caution_names(const SummaryRow& row) {
  std::string names;
  if (!row.figures) return names;
  for (const Caution& caution : row.figures->cautions) {
    if (!names.empty()) names += ';';
    names += name(caution.kind);
  }
  return names;
}

constexpr std::array kLeadingColumns{
    Column<SummaryRow>{"photo", [](const SummaryRow& r) { return text_cell(r.photo); }},
    Column<SummaryRow>{"photo_sha256", [](const SummaryRow& r) { return text_cell(r.photo_sha256); }},
    Column<SummaryRow>{"taken", [](const SummaryRow& r) { return text_cell(r.taken); }},
    Column<SummaryRow>{"state", [](const SummaryRow& r) { return text_cell(name(r.state)); }},
    Column<SummaryRow>{"status", [](const SummaryRow& r) { return text_cell(status(r)); }},
    Column<SummaryRow>{"cautions", [](const SummaryRow& r) { return text_cell(caution_names(r)); }},
};
constexpr std::string_view kReasonColumn = "reason";

constexpr std::array kSpotColumns{
    Column<SpotFigures>{"spot_id", [](const SpotFigures& s) { return whole(s.spot_id); }},
    Column<SpotFigures>{"x_mm", [](const SpotFigures& s) { return length_mm(s.x_mm); }},
    Column<SpotFigures>{"y_mm", [](const SpotFigures& s) { return length_mm(s.y_mm); }},
    Column<SpotFigures>{"r_mm", [](const SpotFigures& s) { return length_mm(s.r_mm); }},
    Column<SpotFigures>{"clock_deg", [](const SpotFigures& s) { return degrees(s.clock_deg); }},
    Column<SpotFigures>{"area_mm2", [](const SpotFigures& s) { return plain(s.area.value.number()); }},
    Column<SpotFigures>{"area_u95_mm2", [](const SpotFigures& s) { return half_width(s.area.u.number()); }},
    Column<SpotFigures>{"ecd_mm", [](const SpotFigures& s) { return length_mm(s.ecd.number()); }},
    Column<SpotFigures>{"feret_max_mm", [](const SpotFigures& s) { return length_mm(s.feret_max.number()); }},
    Column<SpotFigures>{"feret_min_mm", [](const SpotFigures& s) { return length_mm(s.feret_min.number()); }},
    Column<SpotFigures>{"perimeter_mm", [](const SpotFigures& s) { return length_mm(s.perimeter.number()); }},
    Column<SpotFigures>{"form_factor", [](const SpotFigures& s) { return plain(s.form_factor); }},
    Column<SpotFigures>{"aspect_ratio", [](const SpotFigures& s) { return plain(s.aspect_ratio); }},
    Column<SpotFigures>{"solidity", [](const SpotFigures& s) { return plain(s.solidity); }},
    Column<SpotFigures>{"mean_L", [](const SpotFigures& s) { return lightness_cell(s.mean_L); }},
    Column<SpotFigures>{"peak_L", [](const SpotFigures& s) { return lightness_cell(s.peak_L); }},
    Column<SpotFigures>{"contrast_dL", [](const SpotFigures& s) { return lightness_cell(s.contrast_dL); }},
    Column<SpotFigures>{"contrast_weber", [](const SpotFigures& s) { return plain(s.contrast_weber); }},
    Column<SpotFigures>{"touches_rim",
                        [](const SpotFigures& s) { return text_cell(s.touches_rim ? "true" : "false"); }},
};

constexpr std::array kSizeColumns{
    Column<SizeClass>{"ecd_from_mm", [](const SizeClass& c) { return length_mm(c.ecd_from.number()); }},
    Column<SizeClass>{"ecd_to_mm", [](const SizeClass& c) { return length_mm(c.ecd_to.number()); }},
    Column<SizeClass>{"count", [](const SizeClass& c) { return whole(c.count); }},
    Column<SizeClass>{"count_pct", [](const SizeClass& c) { return plain(c.count_pct); }},
    Column<SizeClass>{"area_mm2", [](const SizeClass& c) { return plain(c.area.number()); }},
    Column<SizeClass>{"area_pct", [](const SizeClass& c) { return plain(c.area_pct); }},
};

/// Calls `take(name, cell)` for every column of summary.csv, in its order.
template <class Take>
void visit_cells(const SummaryRow& row, Take take) {
  for (const auto& column : kLeadingColumns) take(column.name, column.cell(row));
  for (const auto& column : kFigureColumns)
    take(column.name, row.figures ? column.cell(*row.figures) : Cell{});
  take(kReasonColumn, text_cell(row.reason));
}

}  // namespace

std::span<const Column<FaceMeasurement>> figure_columns() { return kFigureColumns; }
std::span<const Column<SpotFigures>> spot_columns() { return kSpotColumns; }
std::span<const Column<SizeClass>> size_columns() { return kSizeColumns; }

nlohmann::ordered_json json_of(const Cell& cell) {
  if (cell.text.empty()) return nullptr;
  if (cell.is_number) return nlohmann::ordered_json::parse(cell.text);
  return cell.text;
}

std::string_view name(FaceState state) {
  switch (state) {
    case FaceState::dry:
      return "dry";
    case FaceState::wet:
      return "wet";
    case FaceState::unknown:
      break;
  }
  return "unknown";
}

std::string summary_csv(const std::vector<SummaryRow>& rows) {
  std::vector<std::string> fields;
  visit_cells(SummaryRow{}, [&](std::string_view column, const Cell&) { fields.emplace_back(column); });
  std::string csv = csv_line(fields);
  for (const SummaryRow& row : rows) {
    fields.clear();
    visit_cells(row, [&](std::string_view, const Cell& cell) { fields.push_back(cell.text); });
    csv += csv_line(fields);
  }
  return csv;
}

std::string summary_json(const std::vector<SummaryRow>& rows) {
  auto list = nlohmann::ordered_json::array();
  for (const SummaryRow& row : rows) {
    auto object = nlohmann::ordered_json::object();
    visit_cells(
        row, [&](std::string_view column, const Cell& cell) { object[std::string(column)] = json_of(cell); });
    list.push_back(std::move(object));
  }
  return list.dump(2) + "\n";
}

std::string spots_csv(const FaceMeasurement& figures) {
  return csv_table(std::span<const Column<SpotFigures>>(kSpotColumns), figures.spots);
}

std::string sizes_csv(const FaceMeasurement& figures) {
  return csv_table(std::span<const Column<SizeClass>>(kSizeColumns), figures.sizes);
}

}  // namespace corefleck
