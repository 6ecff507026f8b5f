#include "face_summary.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

namespace corefleck {
namespace {

constexpr std::size_t kLabelWidth = 15;

void add_line(std::string& text, std::string_view label, std::string_view words) {
  text += fmt::format("  {:<{}}{}\n", label, kLabelWidth, words);
}

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

std::string lightness_words(const std::optional<Lightness>& value) {
  return value ? fmt::format("{:.1f}", value->number()) : "not measured";
}

void add_geometry(std::string& text, const FaceMeasurement& f) {
  const double scale = f.scale.value.number(),
               scale_u95_pct = 100.0 * kCoverage95 * f.scale.u.number() / scale;
  add_line(text, "scale", fmt::format("{:.5f} mm/px, u95 {:.2f} %", scale, scale_u95_pct));
  add_line(text, "tilt", fmt::format("{:.1f} deg", f.tilt_deg));
  add_line(text,
           "core diameter",
           with_u95(f.core_diameter.value.number(), kCoverage95 * f.core_diameter.u.number()) + " mm");
  add_line(text,
           "measured area",
           fmt::format("{:.0f} of {:.0f} mm2, glare {:.1f} %",
                       f.measured_area.number(),
                       f.face_area.number(),
                       f.glare_pct));
}

void add_spots(std::string& text, const FaceMeasurement& f) {
  add_line(text, "spots", fmt::format("{}, {:.2f} per cm2", f.spot_count, f.spot_density_per_cm2));
  add_line(text,
           "area fraction",
           with_u95(f.area_fraction.value.number(), kCoverage95 * f.area_fraction.u.number()) + " %");
  if (f.ecd_d10 && f.ecd_d50 && f.ecd_d90 && f.ecd_max)
    add_line(text,
             "ECD",
             fmt::format("d10 {:.2f}, d50 {:.2f}, d90 {:.2f}, largest {:.2f} mm",
                         f.ecd_d10->number(),
                         f.ecd_d50->number(),
                         f.ecd_d90->number(),
                         f.ecd_max->number()));
}

void add_light(std::string& text, const FaceMeasurement& f) {
  add_line(
      text, "L*", fmt::format("matrix {}, spots {}", lightness_words(f.matrix_L), lightness_words(f.spot_L)));
  std::string contrast;
  if (f.contrast_dL)
    contrast += fmt::format("dL* {}",
                            with_u95(f.contrast_dL->value.number(), kCoverage95 * f.contrast_dL->u.number()));
  if (f.contrast_weber)
    contrast += fmt::format("{}Weber {:.3f}", contrast.empty() ? "" : ", ", *f.contrast_weber);
  if (f.contrast_dE00)
    contrast += fmt::format("{}dE00 {:.1f}", contrast.empty() ? "" : ", ", *f.contrast_dE00);
  add_line(text, "contrast", contrast.empty() ? "not measured" : contrast);
  add_line(text, "pits", fmt::format("{}, {:.2f} % of the area", f.pit_count, f.pit_area_fraction_pct));
}

/// What the figures are without the edits, in one place.
void add_unedited(std::string& text, const FaceMeasurement& f) {
  std::string words =
      fmt::format("{} spots, area fraction {} %",
                  f.spot_count,
                  with_u95(f.area_fraction.value.number(), kCoverage95 * f.area_fraction.u.number()));
  if (f.contrast_dL)
    words += fmt::format(", dL* {}",
                         with_u95(f.contrast_dL->value.number(), kCoverage95 * f.contrast_dL->u.number()));
  add_line(text, "without edits", words);
}

void add_cautions(std::string& text, const FaceMeasurement& f, const Terminal& terminal) {
  for (const Caution& caution : f.cautions) {
    text += fmt::format("\n{} {}", terminal.toned("Caution:", Tone::doubtful), meaning(caution.kind));
    if (!caution.detail.empty()) text += fmt::format(" ({})", caution.detail);
    text += fmt::format("\n  What to do: {}\n", remedy(caution.kind));
  }
}

struct ResultFile {
  const char* name;
  const char* what;
};
constexpr std::array kFiles{ResultFile{"overlay.png", "the face with every outline drawn and numbered"},
                            ResultFile{"report.html", "everything to read, and to correct, in a browser"},
                            ResultFile{"spots.csv", "one row a spot"},
                            ResultFile{"sizes.csv", "size classes"},
                            ResultFile{"spots.tif", "label map, for other programs"},
                            ResultFile{"record.json", "everything needed to repeat and defend the figures"}};

}  // namespace

std::string with_u95(double value, double u95) {
  if (!(u95 > 0.0) || !std::isfinite(u95)) return fmt::format("{:.4g}", value);
  const int decimals = std::clamp(1 - static_cast<int>(std::floor(std::log10(u95))), 0, 6);
  return fmt::format("{:.{}f} +/- {:.{}f}", value, decimals, u95, decimals);
}

std::string face_summary(const SummaryRow& row,
                         const std::filesystem::path& folder,
                         const Terminal& terminal) {
  const FaceMeasurement& figures = row.figures.value();
  std::string text =
      fmt::format("{}{}\n", terminal.toned(printable(row.photo), Tone::bold), state_words(row.state));
  add_geometry(text, figures);
  add_spots(text, figures);
  add_light(text, figures);
  if (row.unedited) add_unedited(text, *row.unedited);
  text += "  (+/- and u95: half-width of a 95 % interval)\n";
  add_cautions(text, figures, terminal);
  text += fmt::format("\nFiles in {}\n", printable(folder.string()));
  for (const ResultFile& file : kFiles) add_line(text, file.name, file.what);
  return text;
}

std::string faces_summary(const FacesMean& mean,
                          const std::filesystem::path& table,
                          const Terminal& terminal) {
  const FieldMean& fraction = mean.area_fraction_pct;
  std::string text =
      fmt::format("\n{}\n", terminal.toned(fmt::format("Mean over {} faces", mean.faces), Tone::bold));
  add_line(text, "area fraction", with_u95(fraction.mean, fraction.interval_95) + " %");
  add_line(text, "sd of faces", fmt::format("{:.3g} %", fraction.standard_deviation));
  if (std::isfinite(fraction.relative_accuracy_pct))
    add_line(text,
             "rel. accuracy",
             fmt::format("{:.{}f} % (the interval over the mean, as ASTM E562 has it for fields)",
                         fraction.relative_accuracy_pct,
                         fraction.relative_accuracy_pct < 10.0 ? 1 : 0));
  text +=
      "  (each photo counts as one core; cores are a sample of the pool, and the interval holds for the "
      "pool\n"
      "  only as far as the places to drill were chosen at random)\n";
  add_line(text, "table", printable(table.string()));
  return text;
}

std::string face_line(const SummaryRow& row, std::size_t name_width, const Terminal& terminal) {
  const FaceMeasurement& f = row.figures.value();
  const std::string area = with_u95(f.area_fraction.value.number(), kCoverage95 * f.area_fraction.u.number());
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
