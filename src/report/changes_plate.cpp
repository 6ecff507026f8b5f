#include "change_marks.hpp"
#include "lettering.hpp"
#include "number_text.hpp"
#include "outlines.hpp"
#include "pair_page.hpp"
#include "pair_plates.hpp"
#include "plate_key.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace corefleck {
namespace {

// So large that the page is no longer than an A4 sheet beside its width.
constexpr double kSmallFace = 750.0, kLargeFace = 1090.0;
constexpr double kSmallTop = kPairRuleY + 92.0;
constexpr double kLargeTop = kSmallTop + kSmallFace + 128.0;
constexpr double kFiguresX = 1480.0;
constexpr double kWash = 0.45;
constexpr TextStyle kHeading{.size_px = kHeadingSize, .bold = true, .colour = kText};

void draw_photo(
    cairo_t* cairo, double x, std::string_view heading, const CalibratedFace& face, const SpotMap& map) {
  const FaceFrame frame = face_frame(face, x, kSmallTop + 0.5 * kSmallFace, kSmallFace);
  write_text(cairo, kHeading, {x - 0.5 * kSmallFace, kPairRuleY + 28.0, Align::left, {}, false}, heading);
  paint_face(cairo, face, frame, usual_exposure(face));
  draw_regions(cairo, frame, map);
}

std::string signed_text(const ReadingText& text, double value) {
  return value > 0.0 ? "+" + text.value : text.value;
}

std::vector<PairFigure> figures_of(const ChangesReport& report) {
  const FaceChanges& changes = report.changes;
  const double value = changes.fraction_change.value.number(),
               u95 = kCoverage95 * changes.fraction_change.u.number();
  const ReadingText change = reading(value, u95);
  const bool clear = std::abs(value) > u95;
  std::vector<PairFigure> figures;
  figures.push_back({"Area fraction before",
                     significant(changes.fraction_before.number(), 3),
                     "%",
                     fmt::format("{} spots", changes.count_before)});
  figures.push_back({"Area fraction after",
                     significant(changes.fraction_after.number(), 3),
                     "%",
                     fmt::format("{} spots", changes.count_after)});
  figures.push_back({"Change of it",
                     signed_text(change, value),
                     "%",
                     fmt::format("± {} %: {}",
                                 change.u95,
                                 clear ? "a change beyond its interval" : "no change beyond its interval")});
  figures.push_back(
      {"Area compared", fixed(changes.common_area.number(), 0), "mm²", "shown and measured in both photos"});
  figures.push_back({"Laid on to",
                     significant(changes.registration.residual_mm, 2),
                     "mm rms",
                     fmt::format("after photo turned by {}°", fixed(-changes.registration.rotation_deg, 1))});
  if (const std::string off =
          scale_words(changes.registration, *report.before.figures, *report.after.figures);
      !off.empty())
    figures.back().note += ". " + off;
  return figures;
}

/// A line of the key for each kind that this pair holds, with its count. Gives back the lower edge.
double draw_counts(cairo_t* cairo, double x, double y, const FaceChanges& changes) {
  write_text(cairo, kHeading, {x, y, Align::left, {}, false}, "Spots");
  y += 50.0;
  for (const ChangeKind kind : kKindsShown) {
    const int count = changes.count(kind);
    if (count == 0) continue;
    draw_key_mark(cairo, kind, x, y);
    write_text(
        cairo, {.bold = true}, {x + 150.0, y + 4.0, Align::right, {}, false}, fmt::format("{}", count));
    write_text(cairo, {}, {x + 166.0, y + 4.0, Align::left, {}, false}, kind_words(kind));
    y += 52.0;
  }
  return y;
}

double draw_plate(cairo_t* cairo,
                  const ChangesReport& report,
                  const LaidPair& laid,
                  const RecordContext& context) {
  draw_pair_title(
      cairo, "What changed between two photos of one core", {"before", &laid.first}, {"after", &laid.second});
  constexpr double kQuarter = 0.25 * (kPairRight - kMargin);
  constexpr double kLeftX = kMargin + kQuarter, kRightX = kPairRight - kQuarter;
  draw_photo(cairo, kLeftX, "Before", laid.first.face, laid.first.spots);
  draw_photo(cairo, kRightX, "After, turned onto the before photo", laid.second_face, laid.second_map);

  write_text(
      cairo, kHeading, {kMargin, kLargeTop - 64.0, Align::left, {}, false}, "Change, on the after photo");
  const FaceFrame frame = face_frame(
      laid.first.face, kMargin + 62.0 + 0.5 * kLargeFace, kLargeTop + 30.0 + 0.5 * kLargeFace, kLargeFace);
  paint_face(cairo, laid.second_face, frame, usual_exposure(laid.second_face), kWash);
  draw_regions(cairo, frame, not_compared(laid));
  draw_changes(cairo, frame, report.changes, laid.first.spots, laid.second_map);
  draw_clock_ring(cairo, frame);

  double y =
      draw_pair_figures(cairo, {kFiguresX, kLargeTop, kPairRight - kFiguresX, 0.0}, figures_of(report));
  y = draw_counts(cairo, kFiguresX, y + 10.0, report.changes);
  y += write_text(
           cairo,
           {.size_px = kSmallSize, .bold = false, .colour = kMuted},
           {kFiguresX, y + 16.0, Align::left, kPairRight - kFiguresX, false},
           "Numbers are rows of changes.csv. Grown and shrunk: beyond the uncertainty of the change and the "
           "number of spots compared.")
           .height +
       16.0;
  const double below = kLargeTop + kLargeFace + 112.0;
  const double px_per_mm = frame.px_per_grid / laid.first.face.grid.pitch.number();
  draw_scale_bar(cairo, kMargin + 1.0, below, 520.0, px_per_mm);
  SpotMap both = laid.first.spots;  // a key for what either picture holds
  if (both.spots.empty()) both.spots = laid.second_map.spots;
  if (both.pits.empty()) both.pits = laid.second_map.pits;
  if (both.glare.empty()) both.glare = laid.second_map.glare;
  both.outside = not_compared(laid).outside;
  constexpr double kKeyX = 780.0;
  const double key_end =
      below - 8.0 + draw_key(cairo, {kKeyX, below - 8.0, 580.0, 0.0}, both, laid.first.face.rim_band);
  return draw_pair_foot(cairo,
                        std::max({key_end, below + 90.0, y}) + 16.0,
                        "picture brightness: for reading only",
                        context.program_version);
}

}  // namespace

Result<std::string> changes_png(const ChangesReport& report,
                                const LaidPair& pair,
                                const RecordContext& context) {
  return page_png("changes.png", [&](cairo_t* cairo) { return draw_plate(cairo, report, pair, context); });
}

}  // namespace corefleck
