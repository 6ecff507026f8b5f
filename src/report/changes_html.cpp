#include "change_marks.hpp"
#include "number_text.hpp"
#include "pair_html.hpp"
#include "pair_tables.hpp"
#include "table_json.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>

namespace corefleck {
namespace {

PairKind page_kind(ChangeKind kind) {
  constexpr std::array<std::string_view, 9> kSigns{"+", "▲", "", "▽", "×", "→←", "←→", "?", "–"};
  constexpr std::array<std::string_view, 9> kMeanings{
      "After alone; before there was less than 0.35 of its contrast at its place.",
      "Larger by more than chance and uncertainty explain.",
      "Neither larger nor smaller by more than that.",
      "Smaller by more than chance and uncertainty explain.",
      "Before alone; after there is less than 0.35 of its contrast at its place.",
      "Spots with a clear gap of matrix between them became one.",
      "One spot became several with a clear gap of matrix between them.",
      "In one photo alone, with a trace in the other that counts as no spot; or changed in outline but not "
      "in light.",
      "Cut by rim band, chip, glare or edit, or under a dark mark, in one of the photos."};
  const auto at = static_cast<std::size_t>(kind);
  return {name(kind), kind_words(kind), kSigns[at], kMeanings[at]};
}

std::string area_words(const std::optional<SquareMillimetres>& area) {
  return area ? significant(area->number(), 3) + " mm²" : "none";
}

std::string label_of(const SpotChange& change) {
  std::string words = fmt::format("{}: before {}, after {}",
                                  kind_words(change.kind),
                                  area_words(change.area_before),
                                  area_words(change.area_after));
  if (change.area_change) {
    const double value = change.area_change->value.number();
    const ReadingText text = reading(value, kCoverage95 * change.area_change->u.number());
    words += fmt::format(", change {}{} ± {} mm²", value > 0.0 ? "+" : "", text.value, text.u95);
  }
  return words;
}

Json tiles_of(const ChangesReport& report, const Json& figures) {
  const Estimate<Quantity<struct PercentUnit>>& change = report.changes.fraction_change;
  const bool clear = std::abs(change.value.number()) > kCoverage95 * change.u.number();
  const auto counts = [&](std::string_view a, std::string_view b) {
    return shown_passage({a, "", "", 0}, {b, "", "", 0}, figures);
  };
  const auto both = [&](ChangeKind a, ChangeKind b) {
    return Json{{"value", fmt::format("{}, {}", report.changes.count(a), report.changes.count(b))},
                {"unit", ""},
                {"u95", ""}};
  };
  return Json::array({
      pair_tile(
          "Change of the area fraction",
          "area_fraction_change_pct",
          shown_difference({"area_fraction_change_pct", "", "%", 3, "area_fraction_change_u95_pct"}, figures),
          clear ? "a change beyond its interval" : "no change beyond its interval"),
      pair_tile(
          "Area fraction, before → after",
          "area_fraction_passage",
          shown_passage(
              {"area_fraction_before_pct", "", "%", 2}, {"area_fraction_after_pct", "", "%", 2}, figures),
          "of the common area"),
      pair_tile("Spots, before → after",
                "count_passage",
                counts("count_before", "count_after"),
                fmt::format("{} new, {} gone",
                            report.changes.count(ChangeKind::fresh),
                            report.changes.count(ChangeKind::gone))),
      pair_tile("Spots grown, shrunk",
                "grown_shrunk",
                both(ChangeKind::grown, ChangeKind::shrunk),
                "each beyond its own uncertainty"),
  });
}

std::vector<PairFigureRow> figure_rows() {
  return {{"Area fraction of the common area",
           "%",
           3,
           {"area_fraction_before_pct"},
           {"area_fraction_after_pct"},
           {"area_fraction_change_pct", "area_fraction_change_u95_pct"}},
          {"Spots, half or more of them in it", "", 0, {"count_before"}, {"count_after"}, {}},
          {"Common area, measured in both photos", "mm²", 1, {"common_area_mm2"}, {"common_area_mm2"}, {}}};
}

constexpr std::array<std::string_view, 4> kStatements{
    "± is the half-width of a 95 % interval: 1.96 standard uncertainties (JCGM 100:2008).",
    "Change of the area fraction: root sum of squares of both photos' contributions, which are listed below, "
    "less what the excluded area adds, since both fractions are of one and the same area.",
    "Change of one spot's area: from the boundary error of either photo, less what one spot's own soft flank "
    "and the rule of half contrast do alike in both.",
    "Grown and shrunk: the area differs by so many standard uncertainties of the change that no spot of an "
    "unchanged face is called changed in 95 of 100 pairs of photos. A smaller change may be there: it cannot "
    "be told from chance by these two photos."};

}  // namespace

std::string changes_html(const ChangesReport& report,
                         const LaidPair& laid,
                         const PairedPhoto& before,
                         const PairedPhoto& after) {
  const Json figures = row_json(comparison_columns(), report);
  PairPage page{.command = "compare",
                .first_word = "before",
                .second_word = "after",
                .heading = "Before and after, in register",
                .light_note = "Each picture is as light as is best to see: compare shapes, not lightness.",
                .laid = laid,
                .first = before,
                .second = after,
                .registration = report.changes.registration,
                .exposure = own_exposures(laid),
                .kinds = {},
                .rows = {},
                .table = table_json(change_columns(), report.changes.changes),
                .table_file = "changes.csv",
                .record_file = "comparison.json",
                .figures = figures,
                .figure_rows = figure_rows(),
                .difference_word = "Change",
                .tiles = tiles_of(report, figures),
                .budget = "area_fraction_pct",
                .statements = {kStatements.begin(), kStatements.end()},
                .plots_note =
                    "Spots of more than one before or after are taken together. Areas after are in "
                    "the before photo's millimetres, as in changes.csv. Signs are those of the picture."};
  for (const ChangeKind kind : kKindsShown) page.kinds.push_back(page_kind(kind));
  for (const SpotChange& change : report.changes.changes)
    page.rows.push_back({page_kind(change.kind), change.before_ids, change.after_ids, label_of(change)});
  return pair_html(page);
}

}  // namespace corefleck
