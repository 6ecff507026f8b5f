#include "file_set.hpp"
#include "growth_html.hpp"
#include "neutral.hpp"
#include "record_parts.hpp"
#include "tables.hpp"

#include "corefleck/growth_report.hpp"
#include "corefleck/utf8.hpp"

#include <algorithm>
#include <new>

namespace corefleck {
namespace {

constexpr const char* kAllCores = "growth.png";

Json json_of(const ReportedVisit& visit) {
  Json json{{"date", text_of(visit.date)},
            {"photo", valid_utf8(visit.photo)},
            {"sha256", json_text(visit.photo_sha256)},
            {"taken", json_text(visit.taken)},
            {"state", name(visit.state)},
            {"area_fraction_pct", json_number(visit.area_fraction.value.number())},
            {"u_pct", json_number(visit.area_fraction.u.number())},
            {"u_between_photos_pct", json_number(visit.u_between_photos_pct)},
            {"laid_onto", nullptr}};
  if (visit.link)
    json["laid_onto"] = {{"date", text_of(visit.link->earlier)},
                         {"rotation_deg", json_number(visit.link->rotation_deg)},
                         {"residual_mm", json_number(visit.link->residual_mm)},
                         {"score", json_number(visit.link->score)}};
  return json;
}

/// The line is kept about its centroid: y = y_mean + slope (x - x_mean), x in years since the first visit.
Json json_of(const GrowthRate& rate) {
  return {{"x_mean_years", json_number(rate.line.x_mean)},
          {"y_mean_pct", json_number(rate.line.y_mean)},
          {"slope_pct_per_year", json_number(rate.line.slope)},
          {"u_y_mean_pct", json_number(rate.line.u_mean)},
          {"u_slope_pct_per_year", json_number(rate.line.u_slope)},
          {"chi_squared", json_number(rate.line.chi_squared)},
          {"degrees_of_freedom", rate.line.degrees_of_freedom},
          {"widening", json_number(rate.widening)},
          {"rate_u95_pct_per_year", json_number(rate.rate_u95)},
          {"doubling_time_years", json_number(rate.doubling_time_years)}};
}

Result<std::vector<NamedBytes>> contents(const std::vector<CoreReport>& cores, const RecordContext& context) {
  std::vector<NamedBytes> files;
  files.push_back({"growth.csv", growth_csv(cores)});
  files.push_back({"tracks.csv", tracks_csv(cores)});
  files.push_back({"growth.json", growth_record(cores, context)});
  files.push_back({"report.html", growth_html(cores, context)});
  std::vector<CoreReport> with_line;
  for (const CoreReport& core : cores) {
    if (!core.growth) continue;
    auto plot = growth_plot_png({&core, 1}, context.program_version);
    if (!plot) return tl::make_unexpected(plot.error());
    files.push_back({core.plot_name, *std::move(plot)});
    with_line.push_back(core);
  }
  if (with_line.size() < 2) return files;
  auto all = growth_plot_png(with_line, context.program_version);
  if (!all) return tl::make_unexpected(all.error());
  files.push_back({kAllCores, *std::move(all)});
  return files;
}

/// A plot of an earlier run whose core has no line now would be taken for one of this run.
void remove_old_plots(const std::vector<CoreReport>& cores, const std::filesystem::path& folder) {
  std::error_code ignored;
  for (const CoreReport& core : cores)
    if (!core.growth) std::filesystem::remove(folder / core.plot_name, ignored);
  if (std::count_if(
          cores.begin(), cores.end(), [](const CoreReport& core) { return core.growth.has_value(); }) < 2)
    std::filesystem::remove(folder / kAllCores, ignored);
}

}  // namespace

std::string growth_record(const std::vector<CoreReport>& cores, const RecordContext& context) {
  Json list = Json::array();
  for (const CoreReport& core : cores) {
    Json visits = Json::array();
    for (const ReportedVisit& visit : core.visits) visits.push_back(json_of(visit));
    list.push_back({{"core", valid_utf8(core.core)},
                    {"visits", std::move(visits)},
                    {"line", core.growth ? json_of(core.growth->rate) : Json(nullptr)},
                    {"reason", json_text(core.reason)}});
  }
  Json record = Json::object();
  record["program"] = {{"name", "corefleck"}, {"version", valid_utf8(context.program_version)}};
  record["note"] = kNeutralSentence;
  record["cores"] = std::move(list);
  return record.dump(2, ' ', /*ensure_ascii=*/false, Json::error_handler_t::replace) + "\n";
}

Result<void> write_growth(const std::vector<CoreReport>& cores,
                          const RecordContext& context,
                          const std::filesystem::path& folder) {
  try {
    const auto files = contents(cores, context);
    if (!files) return tl::make_unexpected(files.error());
    auto written = write_files(*files, folder);
    if (written) remove_old_plots(cores, folder);
    return written;
  } catch (const std::bad_alloc&) {
    return failure(ErrorCode::cannot_write, folder.string() + ": out of memory", "list fewer cores");
  }
}

}  // namespace corefleck
