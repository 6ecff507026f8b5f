#include "cli/edits_of.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
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
  CHECK(after.record.at("options").at("edits") == Json::array({"edits.json"}));
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

TEST_CASE("of several edits files each corrects the photo that it was made for", "[cli][finders]") {
  const TemporaryFolder folder;
  put_photo(folder.path());
  fs::copy_file(scene("plain-other", 2).photo, folder.path() / "other.jpg");
  const Arguments both{"measure", "core.jpg", "other.jpg", "--quiet", "--out"};
  const auto run_into = [&](const std::string& out, const Arguments& more) {
    Arguments arguments = both;
    arguments.push_back(out);
    arguments.insert(arguments.end(), more.begin(), more.end());
    return run_corefleck(arguments, folder.path());
  };
  REQUIRE(run_into("plain", {}).status == 0);
  const auto spots_of = [&](const std::string& photo) {
    return csv_rows(bytes_of(folder.path() / photo / "spots.csv"));
  };
  for (const char* photo : {"core", "other"}) {
    const Json record = Json::parse(bytes_of(folder.path() / "plain" / photo / "record.json"));
    const Row spot = spots_of("plain/" + std::string(photo)).at(photo == std::string("core") ? 0 : 1);
    write_bytes(folder.path() / (std::string(photo) + ".json"), edits_for(record, {strike(spot)}).dump());
  }
  // In the other order than the photos; one of them through the set-up file.
  write_bytes(folder.path() / "practice.toml", "edits = [\"other.json\"]\n");
  const Run run = run_into("out", {"--setup", "practice.toml", "--edits", "core.json"});
  INFO(run.err);
  REQUIRE(run.status == 0);
  const auto has = [](const std::vector<Row>& spots, const std::string& id) {
    return std::any_of(spots.begin(), spots.end(), [&](const Row& spot) { return spot.at("spot_id") == id; });
  };
  CHECK(!has(spots_of("out/core"), "1"));
  CHECK(has(spots_of("out/core"), "2"));
  CHECK(has(spots_of("out/other"), "1"));
  CHECK(!has(spots_of("out/other"), "2"));
}

TEST_CASE("edits of no photo given, or two files of one photo, end with 2 and nothing is written",
          "[cli][finders]") {
  const TemporaryFolder folder;
  put_photo(folder.path());
  REQUIRE(run_corefleck({"measure", "core.jpg", "--out", "plain", "--quiet"}, folder.path()).status == 0);
  Json edits = edits_for(results(folder.path() / "plain").record, Json::array());
  write_bytes(folder.path() / "one.json", edits.dump());
  write_bytes(folder.path() / "two.json", edits.dump());
  edits["photo_sha256"] = std::string(64, '1');
  write_bytes(folder.path() / "foreign.json", edits.dump());
  for (const auto& [more, named] : std::vector<std::pair<Arguments, std::string>>{
           {{"--edits", "foreign.json"}, "foreign.json: made for another photo (SHA-256 111111111111...)"},
           {{"--edits", "one.json", "--edits", "two.json"},
            "two.json: corrects the same photo as one.json"}}) {
    Arguments arguments{"measure", "core.jpg", "--out", "out"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    const Run run = run_corefleck(arguments, folder.path());
    CHECK(run.status == 2);
    CHECK_THAT(run.err, Contains(named));
    CHECK(lines_of(run.err).size() == 1);
    CHECK(!fs::exists(folder.path() / "out"));
  }
}

TEST_CASE("an edits file that cannot be used ends with 2 and writes nothing", "[cli]") {
  const TemporaryFolder folder;
  write_bytes(folder.path() / "wrong.json", "{\"format\": \"other\"}");
  const auto refused = [&](const std::string& file) {
    const Run run = run_corefleck({"measure", "a.jpg", "--out", "out", "--edits", file}, folder.path());
    CHECK(run.status == 2);
    CHECK(!fs::exists(folder.path() / "out"));
    return run.err;
  };
  CHECK_THAT(refused("missing.json"), Contains("missing.json: cannot be read"));
  CHECK_THAT(refused("."), Contains("cannot be read"));
  CHECK_THAT(refused("wrong.json"), Contains("wrong.json: is no edits file"));
}
