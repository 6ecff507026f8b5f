#include "plot_axes.hpp"
#include "report/made_core.hpp"
#include "report/scratch_folder.hpp"

#include "corefleck/growth_report.hpp"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <array>
#include <cmath>
#include <string>
#include <vector>

using namespace corefleck;
using namespace corefleck::testing;

// Columns copied from the output contract; figures by hand: 2 to 3 % in 4 years, u 0.2 each, half of it
// between photos.
TEST_CASE("growth.csv: the contract's columns, a row a core, empty where there is no growth", "[report]") {
  CoreReport failed{"B", "growth-B.png", {}, {}, "2026-01-01: no face found in the photo"};
  const std::string csv =
      growth_csv({made_core("A \"north\"", {{"2023-01-01", 2.0, 0.2}, {"2027-01-01", 3.0, 0.2}}), failed});
  CHECK(csv ==
        "core,visits,first_date,last_date,area_fraction_first_pct,area_fraction_last_pct,rate_pct_per_year,"
        "rate_u95_pct_per_year,new_spots,spots_growing,doubling_time_years,scatter,reason\r\n"
        "\"A \"\"north\"\"\",2,2023-01-01,2027-01-01,2.00000,3.00000,0.250000,0.0692952,3,7,8.00000,,\r\n"
        "B,0,,,,,,,,,,,2026-01-01: no face found in the photo\r\n");
}

TEST_CASE("growth as JSON has the digits of growth.csv", "[report]") {
  const auto rows = nlohmann::json::parse(growth_json({made_core("A", kFourVisits)}));
  REQUIRE(rows.size() == 1);
  CHECK(rows[0].at("core") == "A");
  CHECK(rows[0].at("visits") == 4);
  CHECK(rows[0].at("area_fraction_last_pct") == 2.44);
  CHECK(rows[0].at("reason").is_null());
}

TEST_CASE("tracks.csv: the contract's columns, a row a spot and visit", "[report]") {
  CHECK(tracks_csv({made_core("A", {{"2023-01-01", 2.0, 0.2}, {"2027-01-01", 3.0, 0.2}})}) ==
        "core,track_id,date,spot_id,area_mm2,area_u95_mm2,x_mm,y_mm\r\n"
        "A,1,2023-01-01,1,3.00000,0.0979982,1.5000,-2.2500\r\n"
        "A,1,2027-01-01,2,4.00000,0.0979982,1.5000,-2.2500\r\n");
}

TEST_CASE("growth files: tables, record and a plot a core; old plots go where there is no line now",
          "[report]") {
  const ScratchFolder scratch;
  const auto a = made_core("A", kFourVisits), b = made_core("B", {kFourVisits[0], kFourVisits[2]});
  const RecordContext context{"9.9", FaceState::dry, {}};
  const auto exists = [&](const char* name) { return std::filesystem::exists(scratch.path() / name); };
  REQUIRE(write_growth({a, b}, context, scratch.path()));
  for (const char* name : {"growth.csv",
                           "tracks.csv",
                           "growth.json",
                           "report.html",
                           "growth.png",
                           "growth-A.png",
                           "growth-B.png"})
    CHECK(exists(name));
  CoreReport lost = b;
  lost.growth.reset();
  REQUIRE(write_growth({a, lost}, context, scratch.path()));
  CHECK(exists("growth-A.png"));
  CHECK(!exists("growth-B.png"));
  CHECK(!exists("growth.png"));
  const auto record = nlohmann::json::parse(growth_record({a, lost}, context));
  CHECK(record.at("cores").at(0).at("line").at("degrees_of_freedom") == 2);
  CHECK(record.at("cores").at(0).at("visits").at(1).at("u_between_photos_pct") == 0.015);
  CHECK(record.at("cores").at(1).at("line").is_null());
}

TEST_CASE("value axis: from 0, or cut where all values lie high above it; round steps", "[report]") {
  const Axis whole = value_axis(0.4, 2.3);
  CHECK(whole.from == 0.0);
  CHECK(whole.to == Approx(2.5));
  CHECK(whole.ticks.back().label == "2.5");
  const Axis cut = value_axis(8.1, 9.2);
  CHECK(cut.from == Approx(8.0));
  CHECK(cut.to >= 9.2);
  CHECK(cut.ticks.size() <= 8);
  CHECK(value_axis(0.0, 0.0).to > 0.0);
  CHECK(value_axis(0.001, 0.0023).ticks[1].label == "0.0005");
}

TEST_CASE("date axis: as many round dates as there is room for, from days to decades", "[report]") {
  const auto labels = [](const char* first, const char* last) {
    std::string text;
    for (const Tick& tick : date_axis(*date_of(first), *date_of(last), 8).ticks) text += tick.label + " ";
    return text;
  };
  CHECK(labels("2026-03-01", "2026-03-05") ==
        "2026-03-01 2026-03-02 2026-03-03 2026-03-04 2026-03-05 2026-03-06 ");
  CHECK(labels("2025-11-20", "2026-04-02") == "2025-12 2026-01 2026-02 2026-03 2026-04 ");
  CHECK(labels("2025-03-04", "2026-09-02") == "2025-04 2025-07 2025-10 2026-01 2026-04 2026-07 ");
  CHECK(labels("2010-06-01", "2030-06-01") == "2010 2015 2020 2025 2030 ");
  const Axis axis = date_axis(*date_of("2025-01-01"), *date_of("2026-01-01"), 8);
  CHECK(axis.from < 0.0);
  CHECK(axis.to > 365.0 / 365.25);
}

// Hidden: `report_test "[sample]"` draws plots to look at, since no assertion tells whether a plot is
// legible.
TEST_CASE("growth plots to look at, in a folder of the temporary directory", "[.][sample]") {
  const auto folder = std::filesystem::temp_directory_path() / "corefleck-plates";
  std::filesystem::create_directories(folder);
  const auto draw = [&](const char* name, const std::vector<CoreReport>& cores) {
    const auto png = growth_plot_png(cores, "0.1.0");
    REQUIRE(png);
    REQUIRE(write_whole(folder / name, *png));
  };
  draw("growth-one.png", {made_core("A", kFourVisits)});
  draw("growth-two-visits.png",
       {made_core("deep end, east wall", {{"2026-03-02", 8.9, 0.11}, {"2026-03-30", 9.0, 0.08}})});
  draw(
      "growth-none.png",
      {made_core("C", {{"2020-03-02", 0.0, 0.003}, {"2024-03-30", 0.0, 0.003}, {"2026-05-02", 0.0, 0.003}})});
  std::vector<CoreReport> many;
  for (int i = 0; i < 7; ++i) {
    std::vector<MadeVisit> visits = kFourVisits;
    for (MadeVisit& visit : visits)
      visit.fraction_pct =
          visit.fraction_pct * (0.5 + 0.2 * i) + 0.1 * std::sin(5.0 * i + visit.fraction_pct * 9.0);
    many.push_back(made_core("core " + std::to_string(i + 1), visits));
  }
  draw("growth-seven.png", many);
  draw("growth-three.png", {many[0], many[3], many[5]});
}
