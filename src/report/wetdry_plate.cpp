#include "contrast_plot.hpp"
#include "lettering.hpp"
#include "number_text.hpp"
#include "outlines.hpp"
#include "pair_page.hpp"
#include "pair_plates.hpp"
#include "plate_key.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kFaceWidth = 900.0;
constexpr double kFaceTop = kPairRuleY + 92.0;
constexpr double kBelow = kFaceTop + kFaceWidth + 60.0;
constexpr TextStyle kHeading{.size_px = kHeadingSize, .bold = true, .colour = kText};

std::string lightness_words(const std::optional<Lightness>& value) {
  return value ? fixed(value->number(), 1) : "–";
}

template <class Q>
PairFigure figure_of(std::string label, const std::optional<Estimate<Q>>& estimate, std::string note) {
  if (!estimate) return {std::move(label), "–", "", "not measured"};
  const ReadingText text = reading(estimate->value.number(), kCoverage95 * estimate->u.number());
  return {
      std::move(label), text.value, "", fmt::format("± {}{}{}", text.u95, note.empty() ? "" : "   ", note)};
}

std::vector<PairFigure> left_figures(const StatesReport& report) {
  const FaceMeasurement &dry = *report.dry.figures, &wet = *report.wet.figures;
  return {
      {"Matrix L*, dry  →  wet",
       fmt::format("{}  →  {}", lightness_words(dry.matrix_L), lightness_words(wet.matrix_L)),
       "",
       ""},
      figure_of("Darkening of the matrix, ΔL*", report.contrast.darkening, ""),
      {"Spots' L*, dry  →  wet",
       fmt::format("{}  →  {}", lightness_words(dry.spot_L), lightness_words(wet.spot_L)),
       "",
       ""},
      {"Spots in both, dry only, wet only",
       fmt::format("{}, {}, {}", report.contrast.both, report.contrast.dry_only, report.contrast.wet_only),
       "",
       report.contrast.unmeasured > 0 ? fmt::format("{} not compared", report.contrast.unmeasured) : ""}};
}

std::vector<PairFigure> right_figures(const StatesReport& report) {
  const FaceMeasurement &dry = *report.dry.figures, &wet = *report.wet.figures;
  return {figure_of("Contrast dry, ΔL*", dry.contrast_dL, ""),
          figure_of("Contrast wet, ΔL*", wet.contrast_dL, ""),
          figure_of("Gain in contrast, ΔL*", report.contrast.gain, ""),
          figure_of("Gain of the spots seen in both, ΔL*", report.contrast.gain_of_both, "")};
}

void draw_state(cairo_t* cairo,
                double x,
                std::string_view heading,
                const CalibratedFace& face,
                const SpotMap& map,
                double gain) {
  const FaceFrame frame = face_frame(face, x, kFaceTop + 0.5 * kFaceWidth, kFaceWidth);
  write_text(cairo, kHeading, {x - 0.5 * kFaceWidth, kPairRuleY + 28.0, Align::left, {}, false}, heading);
  paint_face(cairo, face, frame, gain);
  draw_regions(cairo, frame, map);
}

double draw_plate(cairo_t* cairo,
                  const StatesReport& report,
                  const LaidPair& laid,
                  const RecordContext& context) {
  const MeasuredFace& dry = laid.first;
  const bool absolute = dry.face.absolute_luminance && laid.second_face.absolute_luminance;
  const PairExposure gain = common_exposure(laid);
  draw_pair_title(cairo, "One core dry and wet", {"dry", &dry}, {"wet", &laid.second});
  draw_state(cairo, kMargin + 0.5 * kFaceWidth, "Dry", dry.face, dry.spots, gain.first);
  draw_state(cairo,
             kPairRight - 0.5 * kFaceWidth,
             "Wet, turned onto the dry photo",
             laid.second_face,
             laid.second_map,
             gain.second);

  const double px_per_mm = kFaceWidth / (2.0 * dry.face.radius.number());
  const double bar = draw_scale_bar(cairo, kMargin + 1.0, kBelow, 460.0, px_per_mm);
  if (absolute)
    draw_lightness_scale(cairo, {kPairRight - kFaceWidth, kBelow - 4.0, kFaceWidth, 36.0}, gain.first);
  constexpr double kPlot = 700.0;
  const double top = kBelow + bar + 60.0;
  draw_contrast_plot(cairo, {kMargin, top, 900.0, kPlot + 120.0}, report.contrast);
  constexpr double kLeftX = 1040.0, kRightX = 1530.0;
  write_text(cairo, kHeading, {kLeftX, top, Align::left, {}, false}, "Figures");
  const double left =
      draw_pair_figures(cairo, {kLeftX, top + 52.0, kRightX - kLeftX - 40.0, 0.0}, left_figures(report));
  const double right =
      draw_pair_figures(cairo, {kRightX, top + 52.0, kPairRight - kRightX, 0.0}, right_figures(report));
  SpotMap both = dry.spots;  // a key for what either picture holds
  if (both.glare.empty()) both.glare = laid.second_map.glare;
  if (both.pits.empty()) both.pits = laid.second_map.pits;
  write_text(cairo,
             {.size_px = kSmallSize, .bold = false, .colour = kMuted},
             {kLeftX, left - 4.0, Align::left, kRightX - kLeftX - 40.0, false},
             std::string("± half-width of the 95 % interval. ") +
                 scale_words(report.contrast.registration, *report.dry.figures, *report.wet.figures));
  const double key = std::max(left, right) + 40.0;
  draw_key(cairo, {kLeftX, key, 580.0, 0.0}, both, dry.face.rim_band);
  return draw_pair_foot(
      cairo,
      top + kPlot + 170.0,
      absolute ? "both pictures on one scale of lightness" : "no grey card: pictures not on one scale",
      context.program_version);
}

}  // namespace

Result<std::string> wetdry_png(const StatesReport& report,
                               const LaidPair& pair,
                               const RecordContext& context) {
  return page_png("wetdry.png", [&](cairo_t* cairo) { return draw_plate(cairo, report, pair, context); });
}

}  // namespace corefleck
