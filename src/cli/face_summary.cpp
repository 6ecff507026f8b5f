#include "face_summary.hpp"

#include "summary_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

namespace corefleck {
namespace {

constexpr std::size_t kLabelWidth = 15;

std::string_view state_words(FaceState state) {
  switch (state) {
    case FaceState::dry:
      return " (dry)";
    case FaceState::wet:
      return " (wet)";
    case FaceState::unknown:
      break;
  }
  return "";
}

void add_geometry(SummaryText& summary, const FaceMeasurement& f) {
  const double scale = f.scale.value.number(),
               scale_u95_pct = 100.0 * kCoverage95 * f.scale.u.number() / scale;
  summary.add_line("scale", fmt::format("{:.5f} mm/px, u95 {:.2f} %", scale, scale_u95_pct));
  summary.add_line("tilt", fmt::format("{:.1f} deg", f.tilt_deg));
  summary.add_line("core diameter", with_u95(f.core_diameter) + " mm");
  summary.add_line("measured area",
                   fmt::format("{:.0f} of {:.0f} mm2, glare {:.1f} %",
                               f.measured_area.number(),
                               f.face_area.number(),
                               f.glare_pct));
}

void add_spots(SummaryText& summary, const FaceMeasurement& f) {
  summary.add_line("spots", fmt::format("{}, {:.2f} per cm2", f.spot_count, f.spot_density_per_cm2));
  summary.add_line("area fraction", with_u95(f.area_fraction) + " %");
  if (f.ecd_d10 && f.ecd_d50 && f.ecd_d90 && f.ecd_max)
    summary.add_line("ECD",
                     fmt::format("d10 {:.2f}, d50 {:.2f}, d90 {:.2f}, largest {:.2f} mm",
                                 f.ecd_d10->number(),
                                 f.ecd_d50->number(),
                                 f.ecd_d90->number(),
                                 f.ecd_max->number()));
}

void add_light(SummaryText& summary, const FaceMeasurement& f) {
  summary.add_line(
      "L*", fmt::format("matrix {}, spots {}", lightness_words(f.matrix_L), lightness_words(f.spot_L)));
  std::string contrast;
  if (f.contrast_dL) contrast += fmt::format("dL* {}", with_u95(*f.contrast_dL));
  if (f.contrast_weber)
    contrast += fmt::format("{}Weber {:.3f}", contrast.empty() ? "" : ", ", *f.contrast_weber);
  if (f.contrast_dE00)
    contrast += fmt::format("{}dE00 {:.1f}", contrast.empty() ? "" : ", ", *f.contrast_dE00);
  summary.add_line("contrast", contrast.empty() ? "not measured" : contrast);
  summary.add_line("pits", fmt::format("{}, {:.2f} % of the area", f.pit_count, f.pit_area_fraction_pct));
}

/// What the figures are without the edits, in one place.
void add_unedited(SummaryText& summary, const FaceMeasurement& f) {
  std::string words = fmt::format("{} spots, area fraction {} %", f.spot_count, with_u95(f.area_fraction));
  if (f.contrast_dL) words += fmt::format(", dL* {}", with_u95(*f.contrast_dL));
  summary.add_line("without edits", words);
}

constexpr std::array kFiles{ResultFile{"overlay.png", "the face with every outline drawn and numbered"},
                            ResultFile{"report.html", "everything to read, and to correct, in a browser"},
                            ResultFile{"spots.csv", "one row a spot"},
                            ResultFile{"sizes.csv", "size classes"},
                            ResultFile{"spots.tif", "label map, for other programs"},
                            ResultFile{"record.json", "everything needed to repeat and defend the figures"}};

}  // namespace

std::string face_summary(const SummaryRow& row,
                         const std::filesystem::path& folder,
                         const Terminal& terminal) {
  const FaceMeasurement& figures = row.figures.value();
  SummaryText summary{
      kLabelWidth,
      fmt::format("{}{}\n", terminal.toned(printable(row.photo), Tone::bold), state_words(row.state))};
  add_geometry(summary, figures);
  add_spots(summary, figures);
  add_light(summary, figures);
  if (row.unedited) add_unedited(summary, *row.unedited);
  summary.text += "  (+/- and u95: half-width of a 95 % interval)\n";
  for (const Caution& caution : figures.cautions) summary.add_caution(caution, {}, terminal);
  summary.add_files(folder, kFiles);
  return summary.text;
}

std::string faces_summary(const FacesMean& mean,
                          const std::filesystem::path& table,
                          const Terminal& terminal) {
  const FieldMean& fraction = mean.area_fraction_pct;
  SummaryText summary{
      kLabelWidth,
      fmt::format("\n{}\n", terminal.toned(fmt::format("Mean over {} faces", mean.faces), Tone::bold))};
  summary.add_line("area fraction", with_u95(fraction.mean, fraction.interval_95) + " %");
  summary.add_line("sd of faces", fmt::format("{:.3g} %", fraction.standard_deviation));
  if (std::isfinite(fraction.relative_accuracy_pct))
    summary.add_line("rel. accuracy",
                     fmt::format("{:.{}f} % (the interval over the mean, as ASTM E562 has it for fields)",
                                 fraction.relative_accuracy_pct,
                                 fraction.relative_accuracy_pct < 10.0 ? 1 : 0));
  summary.text +=
      "  (each photo counts as one core; cores are a sample of the pool, and the interval holds for the "
      "pool\n"
      "  only as far as the places to drill were chosen at random)\n";
  summary.add_line("table", printable(table.string()));
  return summary.text;
}

std::string face_line(const SummaryRow& row, std::size_t name_width, const Terminal& terminal) {
  const FaceMeasurement& f = row.figures.value();
  const std::string area = with_u95(f.area_fraction);
  std::string line =
      fmt::format("{:<{}}  {:>5} spots  {:>16} %", printable(row.photo), name_width, f.spot_count, area);
  line += f.ecd_d50 ? fmt::format("  d50 {:5.2f} mm", f.ecd_d50->number()) : "  d50     - mm";
  line += f.contrast_dL ? fmt::format("  dL* {:5.1f}", f.contrast_dL->value.number()) : "  dL*     -";
  if (f.cautions.empty()) return line + "  " + terminal.toned("ok", Tone::good);
  std::string names;
  for (const Caution& caution : f.cautions)
    names += fmt::format("{}{}", names.empty() ? "" : ";", name(caution.kind));
  return line + "  " + terminal.toned("caution ", Tone::doubtful) + names;
}

}  // namespace corefleck
