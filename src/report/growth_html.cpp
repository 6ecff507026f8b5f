#include "growth_html.hpp"

#include "growth_frame.hpp"
#include "growth_svg.hpp"
#include "growth_tables.hpp"
#include "number_text.hpp"
#include "page_parts.hpp"
#include "table_json.hpp"

#include "corefleck/utf8.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace corefleck {
namespace {

constexpr std::array kCoreFigures{
    ShownFigure{"rate_pct_per_year", "Rate, % of the face a year", "%", 3, "rate_u95_pct_per_year"},
    ShownFigure{"doubling_time_years", "Doubling time at that rate", "years", 1},
    ShownFigure{"scatter", "Scatter of the visits about the line, 1 = as their intervals say", "", 2},
    ShownFigure{"area_fraction_first_pct", "Area fraction at the first visit", "%", 3},
    ShownFigure{"area_fraction_last_pct", "Area fraction at the last visit", "%", 3},
    ShownFigure{"visits", "Visits used", "", 0},
    ShownFigure{"new_spots", "Spots new since the first visit", "", 0},
    ShownFigure{"spots_growing", "Spots growing by more than chance explains", "", 0}};

Json row_of(const CoreReport& core) { return row_json(growth_columns(), core); }

std::string name_of(const CoreReport& core) { return "Core " + valid_utf8(core.core); }

Json cell_of(const ShownFigure& figure, const Json& row) {
  Json cell = figure.column == "rate_pct_per_year" ? shown_difference(figure, row) : shown(figure, row);
  cell["column"] = figure.column;
  return cell;
}

// --- one core

PageSection core_figures(const CoreReport& core, const std::string& id) {
  const Json row = row_of(core);
  Json rows = Json::array();
  for (const ShownFigure& figure : kCoreFigures)
    rows.push_back({{"label", figure.label}, {"cells", Json::array({cell_of(figure, row)})}});
  return {id + "-figures",
          "Figures",
          "figure_columns.mustache",
          {{"id", id + "-figures-table"},
           {"caption", "Figures of core " + valid_utf8(core.core)},
           {"row_head", "Figure"},
           {"heads", Json::array({"Value"})},
           {"rows", std::move(rows)}}};
}

std::string laid_words(const CoreReport& core, const ListedVisit& listed) {
  const auto visit = std::find_if(core.visits.begin(), core.visits.end(), [&](const ReportedVisit& one) {
    return one.date == listed.date;
  });
  if (visit == core.visits.end() || !visit->link) return "";
  return fmt::format("{}: turned by {}°, to {} mm rms, score {}",
                     text_of(visit->link->earlier),
                     fixed(visit->link->rotation_deg, 1),
                     significant(visit->link->residual_mm, 2),
                     fixed(visit->link->score, 2));
}

Json visit_json(const CoreReport& core, const ListedVisit& visit) {
  Json json{{"date", text_of(visit.date)},
            {"photo", valid_utf8(visit.row.photo)},
            {"state", visit.row.state == FaceState::unknown ? "" : name(visit.row.state)},
            {"laid", laid_words(core, visit)},
            {"left_out", valid_utf8(visit.left_out)},
            {"link", ""},
            {"cautions", ""},
            {"cells", Json::array()}};
  if (!visit.row.figures) return json;
  const Json figures = figures_json(*visit.row.figures);
  json["link"] = link_to(visit.folder, "report.html");
  if (const std::size_t count = visit.row.figures->cautions.size(); count > 0)
    json["cautions"] = fmt::format("{} caution{}", count, count == 1 ? "" : "s");
  for (const ShownFigure& figure : {ShownFigure{"spot_count", "", "", 0},
                                    ShownFigure{"area_fraction_pct", "", "%", 3, "area_fraction_u95_pct"},
                                    ShownFigure{"ecd_d50_mm", "", "mm", 2},
                                    ShownFigure{"contrast_dL", "", "", 2, "contrast_dL_u95"}}) {
    Json cell = shown(figure, figures);
    cell["column"] = figure.column;
    json["cells"].push_back(std::move(cell));
  }
  return json;
}

PageSection core_visits(const CoreReport& core, const std::string& id) {
  Json visits = Json::array(), doubts = Json::array();
  for (const ListedVisit& visit : core.listed) visits.push_back(visit_json(core, visit));
  for (const std::string& doubt : visit_doubts(core)) doubts.push_back(valid_utf8(doubt));
  return {id + "-visits",
          "Visits",
          "visits.mustache",
          {{"core", valid_utf8(core.core)}, {"visits", std::move(visits)}, {"doubts", std::move(doubts)}}};
}

PageSection core_section(const CoreReport& core, std::size_t number) {
  const std::string id = fmt::format("core-{}", number);
  PageSection section{id,
                      name_of(core),
                      "paragraphs.mustache",
                      {{"paragraphs", Json::array({"No rate: " + valid_utf8(core.reason) + "."})}},
                      {}};
  if (core.growth) {
    section.template_name = "growth_plot.mustache";
    section.data = growth_svg({&core, 1});
    section.parts.push_back(core_figures(core, id));
  }
  section.parts.push_back(core_visits(core, id));
  return section;
}

// --- all of them

/// A row a core: what one core's table has below each other.
PageSection overview(const std::vector<CoreReport>& cores) {
  Json heads = Json::array(), rows = Json::array();
  for (const ShownFigure& figure : kCoreFigures) heads.push_back(figure.label);
  for (const CoreReport& core : cores) {
    const Json row = row_of(core);
    Json cells = Json::array();
    for (const ShownFigure& figure : kCoreFigures) cells.push_back(cell_of(figure, row));
    rows.push_back({{"label", valid_utf8(core.core)}, {"cells", std::move(cells)}});
  }
  return {"all-figures",
          "Figures of each core",
          "figure_columns.mustache",
          {{"id", "all-figures-table"},
           {"caption", "Figures of each core"},
           {"row_head", "Core"},
           {"heads", std::move(heads)},
           {"rows", std::move(rows)}}};
}

PageSection all_cores(const std::vector<CoreReport>& cores) {
  std::vector<CoreReport> with_line;
  for (const CoreReport& core : cores)
    if (core.growth) with_line.push_back(core);
  PageSection section{"all-cores", "All cores", {}, Json::object(), {}};
  if (!with_line.empty()) {
    section.template_name = "growth_plot.mustache";
    section.data = growth_svg(with_line);
  }
  section.parts.push_back(overview(cores));
  return section;
}

PageSection cautions_of(const std::vector<CoreReport>& cores) {
  PageSection section{"cautions", "Cautions", "cautions.mustache", {{"any", false}}, {}};
  int number = 0;
  for (const CoreReport& core : cores)
    for (const ListedVisit& visit : core.listed) {
      ++number;
      if (!visit.row.figures || visit.row.figures->cautions.empty()) continue;
      PageSection part = cautions_section(*visit.row.figures);
      part.id = fmt::format("cautions-{}", number);
      part.title = fmt::format("{}, {}: {}", name_of(core), text_of(visit.date), valid_utf8(visit.row.photo));
      section.parts.push_back(std::move(part));
    }
  if (!section.parts.empty()) section.template_name = {};
  return section;
}

PageSection uncertainty_of() {
  return {"uncertainty",
          "Uncertainty",
          "paragraphs.mustache",
          {{"paragraphs",
            Json::array({"± is the half-width of a 95 % interval: 1.96 standard uncertainties (JCGM "
                         "100:2008). The budget of "
                         "each visit's area fraction stands in that visit's own report.",
                         "Rate: the straight line through the area fractions against date, years of 365.25 "
                         "days, by weighted "
                         "least squares. A visit weighs by its area fraction's uncertainty without what errs "
                         "in the same way "
                         "in every photo of one face. Where the visits scatter about the line by more than "
                         "that explains, the "
                         "interval is widened by the ratio (R. T. Birge, Phys. Rev. 40 (1932) 207). A "
                         "straight line is an "
                         "assumption.",
                         "Doubling time: years in which the line gains what it has at the first visit, only "
                         "where the rate's "
                         "whole interval lies above 0. Longer than the time between first and last visit, it "
                         "is a statement "
                         "beyond the data.",
                         "Spots growing: the slope of a track's area lies above 0 by more than chance "
                         "explains, all tracks of "
                         "the core together being right with 95 % (Z. Sidak, J. Am. Stat. Assoc. 62 (1967) "
                         "626). Tracks cut "
                         "by rim band, chip or glare at some visit do not count."})}}};
}

PageSection identity_of(const std::vector<CoreReport>& cores, const RecordContext& context) {
  Json photos = Json::array();
  for (const CoreReport& core : cores)
    for (const ListedVisit& visit : core.listed)
      photos.push_back({{"core", valid_utf8(core.core)},
                        {"date", text_of(visit.date)},
                        {"photo", valid_utf8(visit.row.photo)},
                        {"taken", valid_utf8(visit.row.taken)},
                        {"sha256", valid_utf8(visit.row.photo_sha256)}});
  return {"identity",
          "Identity and options",
          "growth_identity.mustache",
          {{"program", fmt::format("corefleck {}", valid_utf8(context.program_version))},
           {"photos", std::move(photos)},
           {"options", options_json(context)}}};
}

// --- head and scripts

Json single_tiles(const CoreReport& core) {
  const Json row = row_of(core);
  const auto tile = [](std::string_view label, std::string_view column, Json cell, std::string note) {
    cell["label"] = label;
    cell["column"] = column;
    cell["note"] = std::move(note);
    return cell;
  };
  if (!core.growth) return Json::array();
  Json passage = cell_of(kCoreFigures[4], row);
  passage["value"] = fmt::format("{} → {}",
                                 fixed(core.visits.front().area_fraction.value.number(), 2),
                                 fixed(core.visits.back().area_fraction.value.number(), 2));
  return Json::array(
      {tile("Rate, % of the face a year",
            "rate_pct_per_year",
            cell_of(kCoreFigures[0], row),
            verdict(core.growth->rate)),
       tile("Area fraction, first → last visit",
            "fraction_passage",
            std::move(passage),
            fmt::format("{} to {}", text_of(core.visits.front().date), text_of(core.visits.back().date))),
       tile("Spots growing", "spots_growing", cell_of(kCoreFigures[7], row), "by more than chance explains"),
       tile("Spots new", "new_spots", cell_of(kCoreFigures[6], row), "since the first visit")});
}

Json several_tiles(const std::vector<CoreReport>& cores) {
  const auto tile = [](std::string_view label, std::string_view column, auto count, std::string_view note) {
    return Json{{"label", label},
                {"column", column},
                {"value", fmt::format("{}", count)},
                {"unit", ""},
                {"u95", ""},
                {"note", note}};
  };
  const auto count = [&](const auto& holds) {
    return std::count_if(cores.begin(), cores.end(), [&](const CoreReport& core) {
      return core.growth && holds(core.growth->rate);
    });
  };
  return Json::array(
      {tile("Cores", "cores", cores.size(), ""),
       tile("Cores whose area fraction grows",
            "growing",
            count([](const GrowthRate& rate) { return rate.grows(); }),
            "beyond the rate's interval"),
       tile("Cores whose area fraction shrinks",
            "shrinking",
            count([](const GrowthRate& rate) { return rate.shrinks(); }),
            "beyond the rate's interval"),
       tile("Cores without a rate",
            "lost",
            std::count_if(
                cores.begin(), cores.end(), [](const CoreReport& core) { return !core.growth.has_value(); }),
            "fewer than two visits could be used")});
}

Json head_of(const std::vector<CoreReport>& cores) {
  Json head{{"tiles", cores.size() == 1 ? single_tiles(cores.front()) : several_tiles(cores)},
            {"edited", false}};
  std::size_t cautions = 0;
  for (const CoreReport& core : cores)
    for (const ListedVisit& visit : core.listed)
      if (visit.row.figures) cautions += visit.row.figures->cautions.size();
  add_caution_count(head, cautions);
  return head;
}

Json island_of(const std::vector<CoreReport>& cores, const RecordContext& context) {
  Json names = Json::array();
  for (const CoreReport& core : cores) names.push_back(valid_utf8(core.core));
  return {{"command", "track"},
          {"program_version", valid_utf8(context.program_version)},
          {"cores", std::move(names)},
          {"tracks", tracks_json(cores)}};
}

}  // namespace

std::string growth_html(const std::vector<CoreReport>& cores, const RecordContext& context) {
  Page page;
  page.title = cores.size() == 1 ? name_of(cores.front()) + " over dated visits"
                                 : fmt::format("{} cores over dated visits", cores.size());
  std::size_t visits = 0;
  for (const CoreReport& core : cores) visits += core.listed.size();
  page.subtitle = fmt::format("{} visits · corefleck track", visits);
  page.program_version = valid_utf8(context.program_version);
  page.skip = {"tracks", "Skip to the table of tracks"};
  page.head = head_of(cores);
  if (cores.size() > 1) page.sections.push_back(all_cores(cores));
  for (std::size_t i = 0; i < cores.size(); ++i) page.sections.push_back(core_section(cores[i], i + 1));
  page.sections.push_back(cautions_of(cores));
  page.sections.push_back(plots_section(
      "track-plots",
      "Each spot against date",
      "Area of each track: of its spots at that visit together, where several became one or came of one. "
      "Choose one in a plot or in the table below.",
      "tracks.csv holds"));
  page.sections.push_back({"tracks",
                           "Tracks",
                           "tracks.mustache",
                           {{"several", cores.size() > 1}, {"cores", [&] {
                                                              Json names = Json::array();
                                                              for (const CoreReport& core : cores)
                                                                names.push_back(valid_utf8(core.core));
                                                              return names;
                                                            }()}}});
  page.sections.push_back(uncertainty_of());
  page.sections.push_back(identity_of(cores, context));
  page.scripts = {"elements.js", "plot_frame.js", "sorted_table.js", "growth_page.js"};
  page.island = island_of(cores, context);
  return page_html(page);
}

}  // namespace corefleck
