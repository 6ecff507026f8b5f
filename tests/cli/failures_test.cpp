#include "cli/program.hpp"

#include <catch2/catch.hpp>

// Photos that cannot be measured: exit 1, one line, a row with the reason, no folder, and the other photos go
// on.

using namespace corefleck::testing;
using Catch::Matchers::Contains;
using Catch::Matchers::StartsWith;

namespace {

void check_failed(const fs::path& folder,
                  const std::string& photo,
                  const std::string& reason,
                  const Arguments& more = {}) {
  Arguments arguments{"measure", photo, "--out", "results"};
  arguments.insert(arguments.end(), more.begin(), more.end());
  const Run run = run_corefleck(arguments, folder);
  CAPTURE(photo, run.err);
  CHECK(run.status == 1);
  CHECK(run.out.empty());
  CHECK(lines_of(run.err).size() == 1);
  CHECK_THAT(run.err, StartsWith("corefleck: " + photo + ": "));
  CHECK_THAT(run.err, Contains(reason) && Contains("; "));
  REQUIRE(names_under(folder / "results") == std::vector<std::string>{"summary.csv"});
  const auto rows = csv_rows(bytes_of(folder / "results/summary.csv"));
  REQUIRE(rows.size() == 1);
  CHECK(rows[0].at("photo") == photo);
  CHECK(rows[0].at("status") == "failed");
  CHECK_THAT(rows[0].at("reason"), Contains(reason));
  for (const char* figure :
       {"mm_per_px", "spot_count", "area_fraction_pct", "ecd_d50_mm", "matrix_L", "pit_count"})
    CHECK(rows[0].at(figure).empty());
}

void check_scene_failed(const Scene& scene, const std::string& reason, const Arguments& more = {}) {
  const TemporaryFolder folder;
  const std::string before = bytes_of(scene.photo);
  fs::copy_file(scene.photo, folder.path() / "photo.jpg");
  check_failed(folder.path(), "photo.jpg", reason, more);
  CHECK(bytes_of(folder.path() / "photo.jpg") == before);
}

}  // namespace

TEST_CASE("a file that is no photo fails with its reason", "[cli]") {
  const TemporaryFolder folder;
  check_failed(folder.path(), "missing.jpg", "no such file");
  write_bytes(folder.path() / "empty.jpg", "");
  check_failed(folder.path(), "empty.jpg", "empty");
  write_bytes(folder.path() / "text.jpg", "Dear Sir or Madam,\n");
  check_failed(folder.path(), "text.jpg", "is not a JPEG");
  fs::create_directory(folder.path() / "folder.jpg");
  check_failed(folder.path(), "folder.jpg", "");
}

TEST_CASE("a truncated photo fails, and nothing of it is measured", "[cli]") {
  const TemporaryFolder folder;
  const std::string whole = bytes_of(scene("plain", 1).photo);
  write_bytes(folder.path() / "half.jpg", whole.substr(0, whole.size() / 2));
  check_failed(folder.path(), "half.jpg", "");
}

TEST_CASE("a photo above --max-megapixels fails", "[cli]") {
  check_scene_failed(scene("plain", 1), "megapixel", {"--max-megapixels", "2.5"});
}

TEST_CASE("a photo without core, card or bar fails and says which is missing", "[cli][finders]") {
  check_scene_failed(scene("no-core", 2, {"core=none"}), "face");
  check_scene_failed(scene("no-card", 2, {"card=none"}), "card");
  check_scene_failed(scene("no-bar", 2, {"bar=none"}), "bar");
}

TEST_CASE("two bars or two cores are refused, not guessed between", "[cli][finders]") {
  check_scene_failed(scene("two-bars", 2, {"second_bar=1"}), "bar");
  check_scene_failed(scene("two-cores", 2, {"second_core=1"}), "");
}

TEST_CASE("a failed photo keeps its row, the others are measured, exit 1", "[cli][finders]") {
  const TemporaryFolder folder;
  fs::copy_file(scene("plain", 1).photo, folder.path() / "good.jpg");
  write_bytes(folder.path() / "bad.jpg", "no photo");
  const Run run =
      run_corefleck({"measure", "bad.jpg", "good.jpg", "missing.jpg", "--out", "results"}, folder.path());
  CHECK(run.status == 1);
  REQUIRE(lines_of(run.err).size() == 2);
  CHECK_THAT(lines_of(run.err)[0], StartsWith("corefleck: bad.jpg: "));
  CHECK_THAT(lines_of(run.err)[1], StartsWith("corefleck: missing.jpg: "));
  const auto rows = csv_rows(bytes_of(folder.path() / "results/summary.csv"));
  REQUIRE(rows.size() == 3);
  CHECK(rows[0].at("status") == "failed");
  CHECK((rows[1].at("status") == "ok" || rows[1].at("status") == "caution"));
  CHECK(rows[2].at("status") == "failed");
  CHECK(!fs::exists(folder.path() / "results/bad"));
  CHECK(fs::exists(folder.path() / "results/good/record.json"));
}

TEST_CASE("a folder that cannot be written fails its photo only", "[cli][finders]") {
  const TemporaryFolder folder;
  fs::copy_file(scene("plain", 1).photo, folder.path() / "good.jpg");
  fs::copy_file(scene("plain", 1).photo, folder.path() / "blocked.jpg");
  fs::create_directory(folder.path() / "results");
  write_bytes(folder.path() / "results/blocked", "a file in the way");
  const Run run = run_corefleck({"measure", "blocked.jpg", "good.jpg", "--out", "results"}, folder.path());
  CHECK(run.status == 1);
  CHECK(bytes_of(folder.path() / "results/blocked") == "a file in the way");
  CHECK(fs::exists(folder.path() / "results/good/spots.csv"));
  const auto rows = csv_rows(bytes_of(folder.path() / "results/summary.csv"));
  REQUIRE(rows.size() == 2);
  CHECK(rows[0].at("status") == "failed");
}
