#include "number_text.hpp"
#include "pair_html.hpp"
#include "pair_tables.hpp"
#include "table_json.hpp"

#include <fmt/format.h>

#include <array>

namespace corefleck {
namespace {

constexpr std::array kKinds{
    PairKind{"both", "both", "", "Seen dry and wet."},
    PairKind{"dry", "dry only", "◇", "Seen dry alone, and its place is measured wet, too."},
    PairKind{"wet", "wet only", "◆", "Seen wet alone, and its place is measured dry, too."},
    PairKind{
        "unmeasured",
        "not compared",
        "–",
        "In one photo alone, at a place where the other is not measured: rim band, chip, glare or edit."}};

PairKind kind_of(const SpotStates& spot) {
  const std::string_view seen = seen_in(spot);
  if (seen == "both") return kKinds[0];
  if (!spot.measurable) return kKinds[3];
  return seen == "dry" ? kKinds[1] : kKinds[2];
}

std::string contrast_words(const std::optional<Lightness>& contrast, const std::optional<double>& weber) {
  if (contrast) return "ΔL* " + fixed(contrast->number(), 1);
  return weber ? "Weber contrast " + fixed(*weber, 2) : "none";
}

std::string label_of(const SpotStates& spot) {
  return fmt::format("{}: contrast dry {}, wet {}",
                     kind_of(spot).words,
                     contrast_words(spot.contrast_dry, spot.weber_dry),
                     contrast_words(spot.contrast_wet, spot.weber_wet));
}

/// The row of wetdry.csv, and what summary.csv says of either photo's contrast.
Json figures_of(const StatesReport& report) {
  Json figures = row_json(state_columns(), report);
  figures["contrast_dL_dry_u95"] = figures_json(*report.dry.figures)["contrast_dL_u95"];
  figures["contrast_dL_wet_u95"] = figures_json(*report.wet.figures)["contrast_dL_u95"];
  return figures;
}

Json tiles_of(const StatesReport& report, const Json& figures) {
  const Json spots{
      {"value",
       fmt::format("{}, {}, {}", report.contrast.both, report.contrast.dry_only, report.contrast.wet_only)},
      {"unit", ""},
      {"u95", ""}};
  return Json::array(
      {pair_tile("Gain in contrast ΔL*",
                 "contrast_gain_dL",
                 shown_difference({"contrast_gain_dL", "", "", 2, "contrast_gain_u95"}, figures),
                 "wet less dry"),
       pair_tile("Darkening of the matrix ΔL*",
                 "matrix_darkening_dL",
                 shown({"matrix_darkening_dL", "", "", 2, "matrix_darkening_u95"}, figures),
                 "dry less wet"),
       pair_tile("Contrast ΔL*, dry → wet",
                 "contrast_passage",
                 shown_passage({"contrast_dL_dry", "", "", 1}, {"contrast_dL_wet", "", "", 1}, figures),
                 "of each photo's own spots"),
       pair_tile("Spots in both, dry only, wet only",
                 "seen",
                 spots,
                 report.contrast.unmeasured > 0 ? fmt::format("{} not compared", report.contrast.unmeasured)
                                                : "")});
}

std::vector<PairFigureRow> figure_rows() {
  return {{"Contrast ΔL*",
           "",
           2,
           {"contrast_dL_dry", "contrast_dL_dry_u95"},
           {"contrast_dL_wet", "contrast_dL_wet_u95"},
           {"contrast_gain_dL", "contrast_gain_u95"}},
          {"Contrast ΔL* of the spots seen in both, weighted by dry area",
           "",
           2,
           {},
           {},
           {"gain_of_both_dL", "gain_of_both_u95"}},
          {"Weber contrast", "", 3, {"contrast_weber_dry"}, {"contrast_weber_wet"}, {}},
          {"Matrix L*", "", 2, {"matrix_L_dry"}, {"matrix_L_wet"}, {}},
          {"Darkening of the matrix ΔL*, dry less wet",
           "",
           2,
           {},
           {},
           {"matrix_darkening_dL", "matrix_darkening_u95"}},
          {"Spot L*", "", 2, {"spot_L_dry"}, {"spot_L_wet"}, {}}};
}

constexpr std::array<std::string_view, 4> kStatements{
    "± is the half-width of a 95 % interval: 1.96 standard uncertainties (JCGM 100:2008).",
    "Gain in contrast: root sum of squares of both photos' contributions, which are listed below. Both "
    "photos "
    "hold the same card, so what its stated reflectance is off goes into both contrasts alike, and into the "
    "gain by their difference alone.",
    "Darkening: from how well the card's level is known in either photo and carried to the face; the "
    "reflectance, again, is common to both.",
    "A spot seen in one state alone is not proof that the other state has none: it may be below what counts "
    "as "
    "a spot there. The wet photo's glare mask is tuned for a water film."};

}  // namespace

std::string states_html(const StatesReport& report,
                        const LaidPair& laid,
                        const PairedPhoto& dry,
                        const PairedPhoto& wet) {
  const Json figures = figures_of(report);
  const bool placed = dry.face.face.absolute_luminance && wet.face.face.absolute_luminance;
  PairPage page{
      .command = "wetdry",
      .first_word = "dry",
      .second_word = "wet",
      .heading = "Dry and wet, in register",
      .light_note = placed ? "Both pictures are on one scale of lightness, so that wetting shows as it is."
                           : "Without a grey card in both photos the pictures are not on one scale of "
                             "lightness.",
      .laid = laid,
      .first = dry,
      .second = wet,
      .registration = report.contrast.registration,
      .exposure = common_exposure(laid),
      .kinds = {kKinds.begin(), kKinds.end()},
      .rows = {},
      .table = table_json(spot_state_columns(), report.contrast.spots),
      .table_file = "wetdry_spots.csv",
      .record_file = "wetdry.json",
      .figures = figures,
      .figure_rows = figure_rows(),
      .difference_word = "Wet less dry",
      .tiles = tiles_of(report, figures),
      .budget = "contrast_dL",
      .statements = {kStatements.begin(), kStatements.end()},
      .plots_note =
          "Spots that are one in one state and several in the other are taken together; "
          "their contrast is the mean by area. Signs are those of the picture."};
  for (const SpotStates& spot : report.contrast.spots)
    page.rows.push_back({kind_of(spot), spot.dry_ids, spot.wet_ids, label_of(spot)});
  return pair_html(page);
}

}  // namespace corefleck
