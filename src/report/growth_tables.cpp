#include "growth_tables.hpp"

#include "csv_cells.hpp"
#include "table_json.hpp"

#include "corefleck/growth_report.hpp"

#include <array>

namespace corefleck {
namespace {

/// Of a core without growth every figure is empty.
template <class Of>
Cell of_growth(const CoreReport& core, Of of) {
  return core.growth ? of(*core.growth) : Cell{};
}

Cell date_cell(const CoreReport& core, std::size_t visit) {
  return core.growth ? text_cell(text_of(core.visits[visit].date)) : Cell{};
}
Cell fraction_cell(const CoreReport& core, std::size_t visit) {
  return core.growth ? plain(core.visits[visit].area_fraction.value.number()) : Cell{};
}
std::size_t last(const CoreReport& core) { return core.visits.empty() ? 0 : core.visits.size() - 1; }

constexpr std::array kGrowthColumns{
    Column<CoreReport>{"core", [](const CoreReport& c) { return text_cell(c.core); }},
    Column<CoreReport>{"visits",
                       [](const CoreReport& c) { return whole(static_cast<int>(c.visits.size())); }},
    Column<CoreReport>{"first_date", [](const CoreReport& c) { return date_cell(c, 0); }},
    Column<CoreReport>{"last_date", [](const CoreReport& c) { return date_cell(c, last(c)); }},
    Column<CoreReport>{"area_fraction_first_pct", [](const CoreReport& c) { return fraction_cell(c, 0); }},
    Column<CoreReport>{"area_fraction_last_pct",
                       [](const CoreReport& c) { return fraction_cell(c, last(c)); }},
    Column<CoreReport>{"rate_pct_per_year",
                       [](const CoreReport& c) {
                         return of_growth(c, [](const CoreGrowth& g) { return plain(g.rate.line.slope); });
                       }},
    Column<CoreReport>{"rate_u95_pct_per_year",
                       [](const CoreReport& c) {
                         return of_growth(c, [](const CoreGrowth& g) { return plain(g.rate.rate_u95); });
                       }},
    Column<CoreReport>{"new_spots",
                       [](const CoreReport& c) {
                         return of_growth(c, [](const CoreGrowth& g) { return whole(g.new_spots); });
                       }},
    Column<CoreReport>{"spots_growing",
                       [](const CoreReport& c) {
                         return of_growth(c, [](const CoreGrowth& g) { return whole(g.spots_growing); });
                       }},
    Column<CoreReport>{"doubling_time_years",
                       [](const CoreReport& c) {
                         return of_growth(
                             c, [](const CoreGrowth& g) { return plain(g.rate.doubling_time_years); });
                       }},
    Column<CoreReport>{"scatter",
                       [](const CoreReport& c) {
                         return of_growth(c, [](const CoreGrowth& g) { return plain(g.rate.scatter); });
                       }},
    Column<CoreReport>{"reason", [](const CoreReport& c) { return text_cell(c.reason); }},
};

struct TrackRow {
  const std::string& core;
  const TrackedSpot& spot;
};

constexpr std::array kTrackColumns{
    Column<TrackRow>{"core", [](const TrackRow& r) { return text_cell(r.core); }},
    Column<TrackRow>{"track_id", [](const TrackRow& r) { return whole(r.spot.track_id); }},
    Column<TrackRow>{"date", [](const TrackRow& r) { return text_cell(text_of(r.spot.date)); }},
    Column<TrackRow>{"spot_id", [](const TrackRow& r) { return whole(r.spot.spot_id); }},
    Column<TrackRow>{"area_mm2", [](const TrackRow& r) { return plain(r.spot.area.value.number()); }},
    Column<TrackRow>{"area_u95_mm2", [](const TrackRow& r) { return half_width(r.spot.area.u.number()); }},
    Column<TrackRow>{"x_mm", [](const TrackRow& r) { return length_mm(r.spot.x_mm); }},
    Column<TrackRow>{"y_mm", [](const TrackRow& r) { return length_mm(r.spot.y_mm); }},
};

std::vector<TrackRow> track_rows(const std::vector<CoreReport>& cores) {
  std::vector<TrackRow> rows;
  for (const CoreReport& core : cores)
    if (core.growth)
      for (const TrackedSpot& spot : core.growth->spots) rows.push_back({core.core, spot});
  return rows;
}

}  // namespace

std::span<const Column<CoreReport>> growth_columns() { return kGrowthColumns; }

std::string growth_csv(const std::vector<CoreReport>& cores) {
  return csv_table<CoreReport>(kGrowthColumns, cores);
}

std::string growth_json(const std::vector<CoreReport>& cores) {
  Json list = Json::array();
  for (const CoreReport& core : cores) list.push_back(row_json(growth_columns(), core));
  return list.dump(2) + "\n";
}

std::string tracks_csv(const std::vector<CoreReport>& cores) {
  return csv_table<TrackRow>(kTrackColumns, track_rows(cores));
}

Json tracks_json(const std::vector<CoreReport>& cores) {
  return table_json<TrackRow>(kTrackColumns, track_rows(cores));
}

}  // namespace corefleck
