#include "pair_summary.hpp"

#include "face_summary.hpp"

#include <fmt/format.h>

#include <cmath>
#include <initializer_list>
#include <string_view>

namespace corefleck {
namespace {

constexpr std::size_t kLabelWidth = 18;

void add_line(std::string& text, std::string_view label, std::string_view words) {
  text += fmt::format("  {:<{}}{}\n", label, kLabelWidth, words);
}

std::string title(const SummaryRow& first, const SummaryRow& second, const Terminal& terminal) {
  return terminal.toned(fmt::format("{}  ->  {}", printable(first.photo), printable(second.photo)),
                        Tone::bold) +
         '\n';
}

void add_registration(std::string& text, const Registration& registration) {
  add_line(text,
           "turned by",
           fmt::format("{:+.2f} deg counterclockwise, laid on to {:.3f} mm rms",
                       registration.rotation_deg,
                       registration.residual_mm));
  add_line(text,
           "same face",
           fmt::format("{} of {} parts agree (score {:.2f}; {:.2f} is wanted)",
                       registration.parts_agreeing,
                       registration.parts,
                       registration.score,
                       kSameFaceScore));
}

template <class Q>
std::string with_interval(const std::optional<Estimate<Q>>& estimate) {
  if (!estimate) return "not measured";
  return with_u95(estimate->value.number(), kCoverage95 * estimate->u.number());
}

void add_cautions(std::string& text, const SummaryRow& row, const Terminal& terminal) {
  for (const Caution& caution : row.figures->cautions) {
    text += fmt::format("\n{} {}: {}",
                        terminal.toned("Caution:", Tone::doubtful),
                        printable(row.photo),
                        meaning(caution.kind));
    if (!caution.detail.empty()) text += fmt::format(" ({})", caution.detail);
    text += fmt::format("\n  What to do: {}\n", remedy(caution.kind));
  }
}

void add_scale_caution(std::string& text,
                       const SummaryRow& first,
                       const SummaryRow& second,
                       const Registration& registration,
                       const Terminal& terminal) {
  const auto off = scale_disagreement(registration, *first.figures, *second.figures);
  if (!off) return;
  text += fmt::format("\n{} the two photos' scales disagree by {:+.2f} %, more than their intervals allow\n",
                      terminal.toned("Caution:", Tone::doubtful),
                      100.0 * *off);
  text +=
      "  What to do: check --bar-length-mm, --bar-blocks and that the bar lies level with the face in both\n";
}

struct ResultFile {
  const char* name;
  const char* what;
};

void add_files(std::string& text, const std::filesystem::path& out, std::initializer_list<ResultFile> files) {
  text += fmt::format("\nFiles in {}\n", printable(out.string()));
  for (const ResultFile& file : files) add_line(text, file.name, file.what);
}

std::string lightness_pair(const std::optional<Lightness>& dry, const std::optional<Lightness>& wet) {
  const auto words = [](const std::optional<Lightness>& value) {
    return value ? fmt::format("{:.1f}", value->number()) : std::string("not measured");
  };
  return fmt::format("dry {}, wet {}", words(dry), words(wet));
}

}  // namespace

std::string changes_summary(const ChangesReport& report,
                            const std::filesystem::path& out,
                            const Terminal& terminal) {
  const FaceChanges& changes = report.changes;
  std::string text = title(report.before, report.after, terminal);
  add_registration(text, changes.registration);
  add_line(text, "common area", fmt::format("{:.0f} mm2", changes.common_area.number()));
  add_line(text, "spots", fmt::format("{} before, {} after", changes.count_before, changes.count_after));
  std::string counts;
  for (const ChangeKind kind : {ChangeKind::fresh,
                                ChangeKind::grown,
                                ChangeKind::steady,
                                ChangeKind::shrunk,
                                ChangeKind::gone,
                                ChangeKind::merged,
                                ChangeKind::split})
    counts += fmt::format("{}{} {}", counts.empty() ? "" : ", ", changes.count(kind), name(kind));
  add_line(text, "changes", counts);
  if (const int unclear = changes.count(ChangeKind::unclear); unclear > 0)
    add_line(
        text,
        "unclear",
        fmt::format("{} with a trace in the other photo, or changed in outline but not in light", unclear));
  if (const int cut = changes.count(ChangeKind::unmeasured); cut > 0)
    add_line(text,
             "not compared",
             fmt::format("{} cut by rim band, chip, glare or a dark mark in one of the photos", cut));
  add_line(text,
           "area fraction",
           fmt::format("{:.3g} % before, {:.3g} % after",
                       changes.fraction_before.number(),
                       changes.fraction_after.number()));
  const double change = changes.fraction_change.value.number(),
               u95 = kCoverage95 * changes.fraction_change.u.number();
  add_line(
      text,
      "change of it",
      fmt::format(
          "{} %{}", with_u95(change, u95), std::abs(change) <= u95 ? ": no change beyond its interval" : ""));
  text += "  (+/-: half-width of a 95 % interval)\n";
  add_scale_caution(text, report.before, report.after, changes.registration, terminal);
  add_cautions(text, report.before, terminal);
  add_cautions(text, report.after, terminal);
  add_files(text,
            out,
            {{"report.html", "everything to read, in a browser; prints as a document"},
             {"changes.png", "before, after and what changed, in register"},
             {"comparison.csv", "the figures of the whole face"},
             {"changes.csv", "one row a spot or group of spots"},
             {"comparison.json", "how the faces were laid onto each other"},
             {"summary.csv", "both photos as `measure` gives them; a folder each"}});
  return text;
}

std::string states_summary(const StatesReport& report,
                           const std::filesystem::path& out,
                           const Terminal& terminal) {
  const StateContrast& contrast = report.contrast;
  const FaceMeasurement &dry = *report.dry.figures, &wet = *report.wet.figures;
  std::string text = title(report.dry, report.wet, terminal);
  add_registration(text, contrast.registration);
  add_line(text, "matrix L*", lightness_pair(dry.matrix_L, wet.matrix_L));
  add_line(text, "darkening", "dL* " + with_interval(contrast.darkening));
  add_line(text, "spots' L*", lightness_pair(dry.spot_L, wet.spot_L));
  add_line(
      text,
      "contrast",
      fmt::format("dry dL* {}, wet dL* {}", with_interval(dry.contrast_dL), with_interval(wet.contrast_dL)));
  add_line(text, "gain in contrast", "dL* " + with_interval(contrast.gain));
  add_line(text, "of the same spots", "dL* " + with_interval(contrast.gain_of_both));
  add_line(text,
           "spots",
           fmt::format("{} in both states, {} dry only, {} wet only",
                       contrast.both,
                       contrast.dry_only,
                       contrast.wet_only));
  if (contrast.unmeasured > 0)
    add_line(
        text, "not compared", fmt::format("{} where one of the photos is not measured", contrast.unmeasured));
  text += "  (+/-: half-width of a 95 % interval)\n";
  add_scale_caution(text, report.dry, report.wet, contrast.registration, terminal);
  add_cautions(text, report.dry, terminal);
  add_cautions(text, report.wet, terminal);
  add_files(text,
            out,
            {{"report.html", "everything to read, in a browser; prints as a document"},
             {"wetdry.png", "dry and wet in register, and each spot's contrast in both"},
             {"wetdry.csv", "the figures of the whole face"},
             {"wetdry_spots.csv", "one row a spot seen in either state"},
             {"wetdry.json", "how the faces were laid onto each other"},
             {"summary.csv", "both photos as `measure` gives them; a folder each"}});
  return text;
}

}  // namespace corefleck
