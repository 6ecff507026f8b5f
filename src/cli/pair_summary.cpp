#include "pair_summary.hpp"

#include "summary_text.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <string_view>

namespace corefleck {
namespace {

constexpr std::size_t kLabelWidth = 18;

std::string title(const SummaryRow& first, const SummaryRow& second, const Terminal& terminal) {
  return terminal.toned(fmt::format("{}  ->  {}", printable(first.photo), printable(second.photo)),
                        Tone::bold) +
         '\n';
}

void add_registration(SummaryText& summary, const Registration& registration) {
  summary.add_line("turned by",
                   fmt::format("{:+.2f} deg counterclockwise, laid on to {:.3f} mm rms",
                               registration.rotation_deg,
                               registration.residual_mm));
  summary.add_line("same face",
                   fmt::format("{} of {} parts agree (score {:.2f}; {:.2f} is wanted)",
                               registration.parts_agreeing,
                               registration.parts,
                               registration.score,
                               kSameFaceScore));
}

void add_scale_caution(SummaryText& summary,
                       const SummaryRow& first,
                       const SummaryRow& second,
                       const Registration& registration,
                       const Terminal& terminal) {
  const auto off = scale_disagreement(registration, *first.figures, *second.figures);
  if (!off) return;
  summary.text +=
      fmt::format("\n{} the two photos' scales disagree by {:+.2f} %, more than their intervals allow\n",
                  terminal.toned("Caution:", Tone::doubtful),
                  100.0 * *off);
  summary.text +=
      "  What to do: check --bar-length-mm, --bar-blocks and that the bar lies level with the face in both\n";
}

/// What stands below the figures of either command: why to look twice.
void add_doubts(SummaryText& summary,
                const SummaryRow& first,
                const SummaryRow& second,
                const Registration& registration,
                const Terminal& terminal) {
  summary.text += "  (+/-: half-width of a 95 % interval)\n";
  add_scale_caution(summary, first, second, registration, terminal);
  for (const SummaryRow* row : {&first, &second})
    for (const Caution& caution : row->figures->cautions) summary.add_caution(caution, row->photo, terminal);
}

std::string lightness_pair(const std::optional<Lightness>& dry, const std::optional<Lightness>& wet) {
  return fmt::format("dry {}, wet {}", lightness_words(dry), lightness_words(wet));
}

constexpr std::array kChangesFiles{
    ResultFile{"report.html", "everything to read, in a browser; prints as a document"},
    ResultFile{"changes.png", "before, after and what changed, in register"},
    ResultFile{"comparison.csv", "the figures of the whole face"},
    ResultFile{"changes.csv", "one row a spot or group of spots"},
    ResultFile{"comparison.json", "how the faces were laid onto each other"},
    ResultFile{"summary.csv", "both photos as `measure` gives them; a folder each"}};

constexpr std::array kStatesFiles{
    ResultFile{"report.html", "everything to read, in a browser; prints as a document"},
    ResultFile{"wetdry.png", "dry and wet in register, and each spot's contrast in both"},
    ResultFile{"wetdry.csv", "the figures of the whole face"},
    ResultFile{"wetdry_spots.csv", "one row a spot seen in either state"},
    ResultFile{"wetdry.json", "how the faces were laid onto each other"},
    ResultFile{"summary.csv", "both photos as `measure` gives them; a folder each"}};

}  // namespace

std::string changes_summary(const ChangesReport& report,
                            const std::filesystem::path& out,
                            const Terminal& terminal) {
  const FaceChanges& changes = report.changes;
  SummaryText summary{kLabelWidth, title(report.before, report.after, terminal)};
  add_registration(summary, changes.registration);
  summary.add_line("common area", fmt::format("{:.0f} mm2", changes.common_area.number()));
  summary.add_line("spots", fmt::format("{} before, {} after", changes.count_before, changes.count_after));
  std::string counts;
  for (const ChangeKind kind : {ChangeKind::fresh,
                                ChangeKind::grown,
                                ChangeKind::steady,
                                ChangeKind::shrunk,
                                ChangeKind::gone,
                                ChangeKind::merged,
                                ChangeKind::split})
    counts += fmt::format("{}{} {}", counts.empty() ? "" : ", ", changes.count(kind), name(kind));
  summary.add_line("changes", counts);
  if (const int unclear = changes.count(ChangeKind::unclear); unclear > 0)
    summary.add_line(
        "unclear",
        fmt::format("{} with a trace in the other photo, or changed in outline but not in light", unclear));
  if (const int cut = changes.count(ChangeKind::unmeasured); cut > 0)
    summary.add_line("not compared",
                     fmt::format("{} cut by rim band, chip, glare or a dark mark in one of the photos", cut));
  summary.add_line("area fraction",
                   fmt::format("{:.3g} % before, {:.3g} % after",
                               changes.fraction_before.number(),
                               changes.fraction_after.number()));
  const double change = changes.fraction_change.value.number(),
               u95 = kCoverage95 * changes.fraction_change.u.number();
  summary.add_line(
      "change of it",
      fmt::format(
          "{} %{}", with_u95(change, u95), std::abs(change) <= u95 ? ": no change beyond its interval" : ""));
  add_doubts(summary, report.before, report.after, changes.registration, terminal);
  summary.add_files(out, kChangesFiles);
  return summary.text;
}

std::string states_summary(const StatesReport& report,
                           const std::filesystem::path& out,
                           const Terminal& terminal) {
  const StateContrast& contrast = report.contrast;
  const FaceMeasurement &dry = *report.dry.figures, &wet = *report.wet.figures;
  SummaryText summary{kLabelWidth, title(report.dry, report.wet, terminal)};
  add_registration(summary, contrast.registration);
  summary.add_line("matrix L*", lightness_pair(dry.matrix_L, wet.matrix_L));
  summary.add_line("darkening", "dL* " + with_u95(contrast.darkening));
  summary.add_line("spots' L*", lightness_pair(dry.spot_L, wet.spot_L));
  summary.add_line(
      "contrast",
      fmt::format("dry dL* {}, wet dL* {}", with_u95(dry.contrast_dL), with_u95(wet.contrast_dL)));
  summary.add_line("gain in contrast", "dL* " + with_u95(contrast.gain));
  summary.add_line("of the same spots", "dL* " + with_u95(contrast.gain_of_both));
  summary.add_line("spots",
                   fmt::format("{} in both states, {} dry only, {} wet only",
                               contrast.both,
                               contrast.dry_only,
                               contrast.wet_only));
  if (contrast.unmeasured > 0)
    summary.add_line("not compared",
                     fmt::format("{} where one of the photos is not measured", contrast.unmeasured));
  add_doubts(summary, report.dry, report.wet, contrast.registration, terminal);
  summary.add_files(out, kStatesFiles);
  return summary.text;
}

}  // namespace corefleck
