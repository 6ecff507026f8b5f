#include "cli/edits_of.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

// Cores over dated visits: lists, files, rates of rendered series against their truth.

using namespace corefleck::testing;
using Catch::Matchers::Contains;
using Catch::Matchers::StartsWith;

namespace {

/// The same rendered core at a later visit: every outline further out, another place, turn, light and noise.
Scene visit_of(int core, int visit) {
  const std::string seed = std::to_string(10 * core + visit);
  const std::array<std::string, 3> growths{"0.02", "0.08", "0.14"};
  return scene("core-" + std::to_string(core) + "-visit-" + std::to_string(visit),
               core,
               {"spots=30",
                "spot_median_mm=1.8",
                "contrast=0.6",
                "exif=0",
                "growth=" + growths.at(static_cast<std::size_t>(visit)),
                "new_spots=" + std::to_string(visit),
                "pose_seed=" + seed,
                "light_seed=" + seed,
                "noise_seed=" + seed});
}

void put_photo(const fs::path& folder, const std::string& name, const Scene& scene) {
  fs::create_directories((folder / name).parent_path());
  fs::copy_file(scene.photo, folder / name);
}

/// A folder with site/a1.jpg, a2.jpg, a3.jpg of one core, b1.jpg, b2.jpg of another.
void put_photos(const fs::path& folder) {
  for (int visit = 0; visit < 3; ++visit)
    put_photo(folder, "site/a" + std::to_string(visit + 1) + ".jpg", visit_of(31, visit));
  for (int visit = 0; visit < 2; ++visit)
    put_photo(folder, "site/b" + std::to_string(visit + 1) + ".jpg", visit_of(32, visit));
}

const std::string kTwoCores =
    "core,date,photo,state,note\r\n"
    "A,2024-03-01,a1.jpg,dry,\"first visit, early\"\r\n"
    "B,2024-03-01,b1.jpg,,\r\n"
    "A,2025-03-01,a2.jpg,dry,\r\n"
    "B,2026-03-01,b2.jpg,,\r\n"
    "A,2026-03-01,a3.jpg,dry,\r\n";

Run tracked(const fs::path& folder, const std::string& list, const Arguments& more = {}) {
  fs::create_directories(folder / "site");
  write_bytes(folder / "site/visits.csv", list);
  Arguments arguments{"track", "site/visits.csv", "--out", "results"};
  arguments.insert(arguments.end(), more.begin(), more.end());
  return run_corefleck(arguments, folder);
}

std::vector<Row> table(const fs::path& folder, const std::string& name) {
  return csv_rows(bytes_of(folder / "results" / name));
}

/// Every line of stderr belongs to the list; nothing is written.
void check_refused(const std::string& list, const std::vector<std::string>& places, const std::string& what) {
  const TemporaryFolder folder;
  write_bytes(folder.path() / "there.jpg", "a photo that is never opened");
  fs::create_directories(folder.path() / "site");
  fs::copy_file(folder.path() / "there.jpg", folder.path() / "site/there.jpg");
  fs::copy_file(folder.path() / "there.jpg", folder.path() / "site/too.jpg");
  const Run run = tracked(folder.path(), list);
  CAPTURE(list, run.err);
  CHECK(run.status == 2);
  CHECK(run.out.empty());
  CHECK(!fs::exists(folder.path() / "results"));
  const auto lines = lines_of(run.err);
  REQUIRE(lines.size() == places.size());
  for (std::size_t i = 0; i < lines.size(); ++i) {
    CHECK_THAT(lines[i], StartsWith("corefleck: site/visits.csv" + places[i]));
    CHECK_THAT(lines[i], Contains("; "));
  }
  CHECK_THAT(run.err, Contains(what));
}

}  // namespace

TEST_CASE("track: rates, tracks and files of two cores, against what was rendered", "[cli][finders]") {
  const TemporaryFolder folder;
  put_photos(folder.path());
  const Run run = tracked(folder.path(), kTwoCores);
  INFO(run.err);
  REQUIRE(run.status == 0);
  CHECK(run.err.empty());
  CHECK_THAT(
      run.out,
      Contains("Core A, 3 visits") && Contains("% of the face a year: grows") && Contains("growth.png"));

  const auto growth = table(folder.path(), "growth.csv");
  REQUIRE(growth.size() == 2);
  CHECK(growth[0].at("core") == "A");
  CHECK(growth[0].at("visits") == "3");
  CHECK(growth[0].at("first_date") == "2024-03-01");
  CHECK(growth[1].at("last_date") == "2026-03-01");
  // Nearly equal steps, so the middle visit hardly turns the line: the truth's is the one through its ends.
  const double years = 730.0 / 365.25;
  for (int core = 0; core < 2; ++core) {
    const Row& row = growth.at(static_cast<std::size_t>(core));
    const double first = visit_of(31 + core, 0).truth.at("area_fraction_pct");
    const double last = visit_of(31 + core, core == 0 ? 2 : 1).truth.at("area_fraction_pct");
    CAPTURE(core, first, last, row.at("rate_pct_per_year"), row.at("rate_u95_pct_per_year"));
    CHECK(std::abs(number(row, "rate_pct_per_year") - (last - first) / years) <
          2.0 * number(row, "rate_u95_pct_per_year"));
    CHECK(number(row, "rate_pct_per_year") > number(row, "rate_u95_pct_per_year"));
    CHECK(number(row, "spots_growing") > 10.0);  // of 30; small ones grow by less than their interval
    CHECK(number(row, "doubling_time_years") > years);
  }
  CHECK(growth[1].at("scatter").empty());

  const auto tracks = table(folder.path(), "tracks.csv");
  std::set<std::pair<std::string, std::string>> spots;
  std::size_t all = 0;
  for (const Row& row : tracks) spots.insert({row.at("core") + row.at("date"), row.at("spot_id")});
  for (const Row& row : table(folder.path(), "summary.csv"))
    all += static_cast<std::size_t>(number(row, "spot_count"));
  CHECK(tracks.size() == all);  // each spot of each visit has one track
  CHECK(spots.size() == all);
  for (const char* file : {"growth.json",
                           "report.html",
                           "growth.png",
                           "growth-A.png",
                           "growth-B.png",
                           "a1/record.json",
                           "b2/spots.csv"})
    CHECK(fs::exists(folder.path() / "results" / file));
}

TEST_CASE("track: spots stay in place in the first visit's coordinates", "[cli][finders]") {
  const TemporaryFolder folder;
  put_photos(folder.path());
  REQUIRE(tracked(folder.path(), kTwoCores, {"--quiet"}).status == 0);
  std::map<std::string, std::vector<Row>> by_track;
  for (const Row& row : table(folder.path(), "tracks.csv"))
    if (row.at("core") == "A") by_track[row.at("track_id")].push_back(row);
  int whole = 0;
  for (const auto& [id, rows] : by_track) {
    if (rows.size() != 3 || rows[0].at("date") == rows[1].at("date")) continue;
    ++whole;
    for (const Row& row : rows) {
      CAPTURE(id);
      CHECK(std::hypot(number(row, "x_mm") - number(rows[0], "x_mm"),
                       number(row, "y_mm") - number(rows[0], "y_mm")) < 0.3);
      CHECK(number(row, "area_mm2") > 0.9 * number(rows[0], "area_mm2"));
    }
  }
  CHECK(whole > 20);
}

TEST_CASE("track: the same bytes for any number of jobs, and --json and --quiet as in measure",
          "[cli][finders]") {
  const TemporaryFolder one, four;
  put_photos(one.path());
  put_photos(four.path());
  const Run quiet = tracked(one.path(), kTwoCores, {"--jobs", "1", "--quiet"});
  const Run json = tracked(four.path(), kTwoCores, {"--jobs", "4", "--json"});
  CHECK(quiet.status == 0);
  CHECK(quiet.out.empty());
  for (const char* file : {"growth.csv",
                           "tracks.csv",
                           "growth.json",
                           "report.html",
                           "summary.csv",
                           "growth-A.png",
                           "growth.png"})
    CHECK(bytes_of(one.path() / "results" / file) == bytes_of(four.path() / "results" / file));
  const auto rows = nlohmann::json::parse(json.out);
  REQUIRE(rows.size() == 2);
  CHECK(rows[0].at("core") == "A");
  CHECK(rows[0].at("rate_pct_per_year").is_number());
  CHECK(rows[1].at("scatter").is_null());
}

TEST_CASE("track: the list's state goes before the run's, and is told where visits differ",
          "[cli][finders]") {
  const TemporaryFolder folder;
  put_photo(folder.path(), "site/b1.jpg", visit_of(32, 0));
  put_photo(folder.path(), "site/b2.jpg", visit_of(32, 1));
  const Run run = tracked(folder.path(),
                          "core,date,photo,state\nB,2025-01-01,b1.jpg,dry\nB,2026-01-01,b2.jpg,\n",
                          {"--state", "wet"});
  CHECK(run.status == 0);
  const auto summary = table(folder.path(), "summary.csv");
  REQUIRE(summary.size() == 2);
  CHECK(summary[0].at("state") == "dry");
  CHECK(summary[1].at("state") == "wet");
  CHECK_THAT(run.out, Contains("differ in state"));
}

TEST_CASE("track: a visit that cannot be measured or shows another core is left out and named, exit 1",
          "[cli][finders]") {
  const TemporaryFolder folder;
  put_photos(folder.path());
  put_photo(folder.path(), "site/no-card.jpg", scene("no-card", 2, {"card=none"}));
  const Run run = tracked(folder.path(),
                          "core,date,photo\n"
                          "A,2024-03-01,a1.jpg\n"
                          "A,2024-09-01,no-card.jpg\n"
                          "A,2025-03-01,b1.jpg\n"
                          "A,2026-03-01,a3.jpg\n");
  CHECK(run.status == 1);
  const auto lines = lines_of(run.err);
  REQUIRE(lines.size() == 2);
  CHECK_THAT(lines[0], StartsWith("corefleck: site/no-card.jpg: ") && Contains("card"));
  CHECK_THAT(lines[1], StartsWith("corefleck: site/b1.jpg: left out of core A: "));
  const auto growth = table(folder.path(), "growth.csv");
  REQUIRE(growth.size() == 1);
  CHECK(growth[0].at("visits") == "2");
  CHECK(growth[0].at("last_date") == "2026-03-01");
  CHECK(!growth[0].at("rate_pct_per_year").empty());
  CHECK(table(folder.path(), "summary.csv").size() == 4);
}

TEST_CASE("track: a core with one visit left keeps its row with the reason, others go on", "[cli][finders]") {
  const TemporaryFolder folder;
  put_photos(folder.path());
  write_bytes(folder.path() / "site/bad.jpg", "no photo");
  const Run run = tracked(folder.path(),
                          "core,date,photo\n"
                          "A,2024-03-01,a1.jpg\n"
                          "A,2026-03-01,bad.jpg\n"
                          "B,2024-03-01,b1.jpg\n"
                          "B,2026-03-01,b2.jpg\n");
  CHECK(run.status == 1);
  const auto growth = table(folder.path(), "growth.csv");
  REQUIRE(growth.size() == 2);
  CHECK(growth[0].at("rate_pct_per_year").empty());
  CHECK_THAT(growth[0].at("reason"), Contains("1 of 2 visits"));
  CHECK(!growth[1].at("rate_pct_per_year").empty());
  CHECK(!fs::exists(folder.path() / "results/growth-A.png"));
  CHECK(fs::exists(folder.path() / "results/growth-B.png"));
}

TEST_CASE("track: a wrong list is refused by line and column, and nothing is written", "[cli]") {
  const std::string head = "core,date,photo\n", good = "A,2024-03-01,there.jpg\n";
  check_refused(
      "core,date,photo,colour\nA,2024-03-01,there.jpg,red\n", {": line 1, column 4: "}, "unknown column");
  check_refused(head + good + "A,1 March 2025,too.jpg\n", {": line 3, column 2: "}, "is no date");
  check_refused(
      head + good + "A,2025-03-01,missing.jpg\n", {": line 3, column 3: "}, "no photo \"site/missing.jpg\"");
  check_refused(head + good, {": line 2, column 1: "}, "one visit only");
  check_refused(head + good + "A,2024-03-01,too.jpg\n", {": line 3, column 2: "}, "already, line 2");
  check_refused(head + good + "A,2025-03-01,\"too.jpg\n", {": line 3, column 3: "}, "never closed");
  check_refused("", {": "}, "is empty");
  check_refused(
      head + "A,x,there.jpg\nA,y,too.jpg\n", {": line 2, column 2: ", ": line 3, column 2: "}, "is no date");
}

TEST_CASE("track: a spot struck at every visit is in no track", "[cli]") {
  const TemporaryFolder folder;
  put_photos(folder.path());
  const std::string list = "core,date,photo\nB,2024-03-01,b1.jpg\nB,2026-03-01,b2.jpg\n";
  REQUIRE(tracked(folder.path(), list).status == 0);
  const fs::path out = folder.path() / "results";
  const auto tracks = csv_rows(bytes_of(out / "tracks.csv"));
  const std::string id = tracks.at(0).at("track_id");
  Arguments edits;
  for (const auto& [date, photo] : {std::pair{"2024-03-01", "b1"}, std::pair{"2026-03-01", "b2"}})
    for (const Row& spot : tracks) {
      if (spot.at("track_id") != id || spot.at("date") != date) continue;
      const auto record = nlohmann::json::parse(bytes_of(out / photo / "record.json"));
      const auto spots = csv_rows(bytes_of(out / photo / "spots.csv"));
      const auto row = std::find_if(spots.begin(), spots.end(), [&](const Row& one) {
        return one.at("spot_id") == spot.at("spot_id");
      });
      REQUIRE(row != spots.end());
      write_bytes(folder.path() / (std::string(photo) + ".json"), edits_for(record, {strike(*row)}).dump());
      edits.insert(edits.end(), {"--edits", std::string(photo) + ".json"});
    }
  REQUIRE(edits.size() == 4);
  const Run run = tracked(folder.path(), list, edits);
  CAPTURE(run.err);
  REQUIRE(run.status == 0);
  const auto edited = csv_rows(bytes_of(out / "tracks.csv"));
  CHECK(edited.size() == tracks.size() - 2);
  for (const Row& spot : edited)
    CHECK(std::hypot(number(spot, "x_mm") - number(tracks[0], "x_mm"),
                     number(spot, "y_mm") - number(tracks[0], "y_mm")) > 0.1);
}

TEST_CASE("track: a list that is missing, a folder, or in the way of the results is refused", "[cli]") {
  const TemporaryFolder folder;
  fs::create_directory(folder.path() / "site");
  for (const char* list : {"none.csv", "site"}) {
    const Run run = run_corefleck({"track", list, "--out", "results"}, folder.path());
    CHECK(run.status == 2);
    CHECK(lines_of(run.err).size() == 1);
    CHECK_THAT(run.err, StartsWith(std::string("corefleck: ") + list + ": "));
  }
  write_bytes(folder.path() / "a.jpg", "a");
  write_bytes(folder.path() / "b.jpg", "b");
  write_bytes(folder.path() / "growth.csv", "core,date,photo\nA,2024-03-01,a.jpg\nA,2025-03-01,b.jpg\n");
  const Run run = run_corefleck({"track", "growth.csv", "--out", "."}, folder.path());
  CHECK(run.status == 2);
  CHECK_THAT(run.err, Contains("lies where results are written"));
  CHECK_THAT(bytes_of(folder.path() / "growth.csv"), StartsWith("core,date,photo"));
}
