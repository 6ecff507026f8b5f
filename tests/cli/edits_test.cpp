#include "cli/program.hpp"

#include <catch2/catch.hpp>

#include <cmath>

// A person's corrections: what becomes of the figures, and what is refused.

using namespace corefleck::testing;
using Catch::Matchers::Contains;
using Json = nlohmann::json;

namespace {

struct Measured {
  Json record;
  std::vector<Row> spots;
  Row summary;
};

Measured results(const fs::path& out) {
  return {Json::parse(bytes_of(out / "core/record.json")),
          csv_rows(bytes_of(out / "core/spots.csv")),
          csv_rows(bytes_of(out / "summary.csv")).at(0)};
}

void put_photo(const fs::path& folder) { fs::copy_file(scene("plain", 1).photo, folder / "core.jpg"); }

Json edits_for(const Json& record, Json list) {
  return {{"format", "corefleck edits"},
          {"version", 1},
          {"photo_sha256", record.at("input").at("sha256")},
          {"grid_mm_per_px", record.at("calibration").at("rectified_grid").at("mm_per_px")},
          {"grid_size_px", record.at("calibration").at("rectified_grid").at("size_px")},
          {"edits", std::move(list)}};
}

Json strike(const Row& spot) {
  return {{"edit", "strike"},
          {"spot_id", std::stoi(spot.at("spot_id"))},
          {"x_mm", std::stod(spot.at("x_mm"))},
          {"y_mm", std::stod(spot.at("y_mm"))},
          {"reason", "a grain of sand"},
          {"initials", "AB"}};
}

}  // namespace

TEST_CASE("a struck spot leaves the figures, and those without edits stand beside them", "[cli][finders]") {
  const TemporaryFolder folder;
  put_photo(folder.path());
  REQUIRE(run_corefleck({"measure", "core.jpg", "--out", "plain", "--quiet"}, folder.path()).status == 0);
  const Measured before = results(folder.path() / "plain");
  REQUIRE(before.spots.size() > 2);
  write_bytes(folder.path() / "edits.json", edits_for(before.record, {strike(before.spots[1])}).dump());
  const Run run =
      run_corefleck({"measure", "core.jpg", "--out", "out", "--edits", "edits.json"}, folder.path());
  INFO(run.err);
  REQUIRE(run.status == 0);
  CHECK_THAT(run.out, Contains("without edits") && Contains("a person changed"));
  const Measured after = results(folder.path() / "out");
  CHECK(after.spots.size() + 1 == before.spots.size());
  for (const Row& spot : after.spots) CHECK(spot.at("spot_id") != before.spots[1].at("spot_id"));
  CHECK(number(after.summary, "spot_area_mm2") ==
        Approx(number(before.summary, "spot_area_mm2") - number(before.spots[1], "area_mm2")).epsilon(1e-4));
  CHECK(after.summary.at("measured_area_mm2") == before.summary.at("measured_area_mm2"));
  CHECK(after.summary.at("status") == "caution");
  CHECK_THAT(after.summary.at("cautions"), Contains("edited"));
  CHECK(after.record.at("figures_without_edits") == before.record.at("figures"));
  CHECK(after.record.at("edits").size() == 1);
  CHECK(after.record.at("edits")[0].at("reason") == "a grain of sand");
  CHECK(after.record.at("edits")[0].at("initials") == "AB");
  CHECK(after.record.at("options").at("edits") == "edits.json");
}

TEST_CASE("edits that change nothing leave every figure as it was", "[cli][finders]") {
  const TemporaryFolder folder;
  put_photo(folder.path());
  REQUIRE(run_corefleck({"measure", "core.jpg", "--out", "plain", "--quiet"}, folder.path()).status == 0);
  const Measured before = results(folder.path() / "plain");
  Json restore = strike(before.spots[0]);
  restore["edit"] = "restore";
  write_bytes(folder.path() / "edits.json",
              edits_for(before.record, {strike(before.spots[0]), restore}).dump());
  REQUIRE(
      run_corefleck({"measure", "core.jpg", "--out", "out", "--edits", "edits.json"}, folder.path()).status ==
      0);
  CHECK(bytes_of(folder.path() / "out/core/spots.csv") == bytes_of(folder.path() / "plain/core/spots.csv"));
  CHECK(results(folder.path() / "out").record.at("figures") == before.record.at("figures"));
}

TEST_CASE("edits for another photo fail that photo, and nothing of it is written", "[cli][finders]") {
  const TemporaryFolder folder;
  put_photo(folder.path());
  REQUIRE(run_corefleck({"measure", "core.jpg", "--out", "plain", "--quiet"}, folder.path()).status == 0);
  Json edits = edits_for(results(folder.path() / "plain").record, Json::array());
  edits["photo_sha256"] = std::string(64, '1');
  write_bytes(folder.path() / "edits.json", edits.dump());
  const Run run =
      run_corefleck({"measure", "core.jpg", "--out", "out", "--edits", "edits.json"}, folder.path());
  CHECK(run.status == 1);
  CHECK_THAT(run.err, Contains("core.jpg: edits.json: made for another photo"));
  CHECK(lines_of(run.err).size() == 1);
  CHECK(!fs::exists(folder.path() / "out/core"));
}

TEST_CASE("an edits file that cannot be used ends with 2 and writes nothing", "[cli]") {
  const TemporaryFolder folder;
  write_bytes(folder.path() / "wrong.json", "{\"format\": \"other\"}");
  write_bytes(folder.path() / "good.json",
              edits_for({{"input", {{"sha256", std::string(64, '0')}}},
                         {"calibration", {{"rectified_grid", {{"mm_per_px", 0.05}, {"size_px", 900}}}}}},
                        Json::array())
                  .dump());
  const auto refused = [&](const Arguments& photos, const std::string& file) {
    Arguments arguments{"measure", "--out", "out", "--edits", file};
    arguments.insert(arguments.end(), photos.begin(), photos.end());
    const Run run = run_corefleck(arguments, folder.path());
    CHECK(run.status == 2);
    CHECK(!fs::exists(folder.path() / "out"));
    return run.err;
  };
  CHECK_THAT(refused({"a.jpg"}, "missing.json"), Contains("missing.json: cannot be read"));
  CHECK_THAT(refused({"a.jpg"}, "."), Contains("cannot be read"));
  CHECK_THAT(refused({"a.jpg"}, "wrong.json"), Contains("wrong.json: is no edits file"));
  CHECK_THAT(refused({"a.jpg", "b.jpg"}, "good.json"), Contains("corrects one photo"));
}
