#include "cli/program.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <cstdlib>

// Photos that are measured: files, names, formats, and rendered photos against their truth.

using namespace corefleck::testing;
using Catch::Matchers::Contains;

namespace {

const std::vector<std::string> kFaceFiles{
    "overlay.png", "record.json", "report.html", "sizes.csv", "spots.csv", "spots.tif"};

/// A scene with enough spots for a distribution, none of them barely resolved.
Scene many_spots(int seed) {
  return scene("many-" + std::to_string(seed), seed, {"spots=60", "spot_median_mm=1.6", "contrast=0.6"});
}

/// Measures copies of the plain scene under these names.
Run measured_copies(const fs::path& folder, const Arguments& names, const Arguments& more = {}) {
  Arguments arguments{"measure"};
  for (const std::string& name : names) {
    fs::create_directories((folder / name).parent_path());
    fs::copy_file(scene("plain", 1).photo, folder / name, fs::copy_options::overwrite_existing);
    arguments.push_back(name);
  }
  arguments.insert(arguments.end(), {"--out", "results"});
  arguments.insert(arguments.end(), more.begin(), more.end());
  return run_corefleck(arguments, folder);
}

/// Its row of summary.csv, measured with what a user would have to say of it.
Row measured_scene(const Scene& scene, const fs::path& folder) {
  Arguments arguments{"measure", scene.photo.string(), "--out", "results", "--quiet"};
  for (const std::string option : scene.truth.at("options")) {
    const std::size_t blank = option.find(' ');
    arguments.push_back(option.substr(0, blank));
    if (blank != std::string::npos) arguments.push_back(option.substr(blank + 1));
  }
  const Run run = run_corefleck(arguments, folder);
  INFO(run.err);
  REQUIRE(run.status == 0);
  return csv_rows(bytes_of(folder / "results/summary.csv")).at(0);
}

}  // namespace

TEST_CASE("one photo gives a row, a folder of six files and a text to read", "[cli][finders]") {
  const TemporaryFolder folder;
  const Run run = measured_copies(folder.path(), {"core-1.jpg"});
  CHECK(run.status == 0);
  CHECK(run.err.empty());
  CHECK_THAT(run.out,
             Contains("area fraction") && Contains("+/-") && Contains("results/core-1") && !Contains("\033"));
  CHECK(names_under(folder.path() / "results/core-1") == kFaceFiles);
  CHECK(names_under(folder.path() / "results").size() == kFaceFiles.size() + 2);
  const auto record = nlohmann::json::parse(bytes_of(folder.path() / "results/core-1/record.json"));
  CHECK(record.at("options").at("bar-blocks") == 5);
  CHECK(record.at("input").at("width_px") == 2000);
  CHECK(csv_rows(bytes_of(folder.path() / "results/core-1/spots.csv")).size() ==
        static_cast<std::size_t>(record.at("figures").at("spot_count").get<int>()));
}

TEST_CASE("the input photo is never changed", "[cli][finders]") {
  const TemporaryFolder folder;
  CHECK(measured_copies(folder.path(), {"core-1.jpg"}).status == 0);
  CHECK(bytes_of(folder.path() / "core-1.jpg") == bytes_of(scene("plain", 1).photo));
}

TEST_CASE("photos of one name get -2 and so on, also if only case differs", "[cli][finders]") {
  const TemporaryFolder folder;
  const Run run =
      measured_copies(folder.path(), {"a/core.jpg", "b/core.jpg", "c/CORE.jpg", "summary.csv.jpg"});
  CHECK(run.status == 0);
  for (const char* name : {"core", "core-2", "CORE-3", "summary.csv-2"})
    CHECK(names_under(folder.path() / "results" / name) == kFaceFiles);
  CHECK(csv_rows(bytes_of(folder.path() / "results/summary.csv")).at(2).at("photo") == "c/CORE.jpg");
}

TEST_CASE("odd names are kept where they are harmless and cleaned where they are not", "[cli][finders]") {
  const TemporaryFolder folder;
  const Run run = measured_copies(
      folder.path(),
      {"a b.jpg", "it's \"so\".jpg", "<script>.jpg", "./-x.jpg", "line\nend.jpg", "comma,.jpg", "....jpg"});
  CHECK(run.status == 0);
  for (const char* name : {"a b", "it's \"so\"", "<script>", "-x", "line_end", "comma,", "photo"})
    CHECK(names_under(folder.path() / "results" / name) == kFaceFiles);
  CHECK(csv_rows(bytes_of(folder.path() / "results/summary.csv")).at(1).at("photo") == "it's \"so\".jpg");
  const std::vector<std::string> lines = lines_of(run.out);
  CHECK(std::count_if(lines.begin(), lines.end(), [](const std::string& line) {
          return line.find(".jpg") != std::string::npos;
        }) == 7);
}

TEST_CASE("measuring again replaces the results, and an equal run gives equal bytes", "[cli][finders]") {
  const TemporaryFolder folder;
  CHECK(measured_copies(folder.path(), {"core.jpg"}).status == 0);
  const auto names = names_under(folder.path() / "results");
  const std::string before = bytes_of(folder.path() / "results/core/spots.csv");
  write_bytes(folder.path() / "results/core/spots.csv", "old");
  write_bytes(folder.path() / "results/core/notes.txt", "mine");
  CHECK(measured_copies(folder.path(), {"core.jpg"}).status == 0);
  CHECK(bytes_of(folder.path() / "results/core/spots.csv") == before);
  CHECK(bytes_of(folder.path() / "results/core/notes.txt") == "mine");
  CHECK(names_under(folder.path() / "results").size() == names.size() + 1);
}

TEST_CASE("results are the same bytes for any number of jobs", "[cli][finders]") {
  const TemporaryFolder one, four;
  const Arguments photos{scene("plain", 1).photo.string(),
                         many_spots(3).photo.string(),
                         scene("no-card", 2, {"card=none"}).photo.string(),
                         "missing.jpg"};
  const auto arguments = [&](const std::string& jobs) {
    Arguments all{"measure", "--out", "results", "--jobs", jobs};
    all.insert(all.end(), photos.begin(), photos.end());
    return all;
  };
  const Run first = run_corefleck(arguments("1"), one.path()),
            second = run_corefleck(arguments("4"), four.path());
  CHECK(first.status == 1);
  CHECK(second.status == 1);
  CHECK(first.out == second.out);
  CHECK(first.err == second.err);
  const auto names = names_under(one.path());
  REQUIRE(names == names_under(four.path()));
  for (const std::string& name : names)
    if (fs::is_regular_file(one.path() / name)) {
      INFO(name);
      CHECK((bytes_of(one.path() / name) == bytes_of(four.path() / name)));
    }
}

TEST_CASE("the json option prints the rows of summary.csv and nothing else", "[cli][finders]") {
  const TemporaryFolder folder;
  fs::copy_file(scene("plain", 1).photo, folder.path() / "core.jpg");
  const Run run =
      run_corefleck({"measure", "core.jpg", "missing.jpg", "--out", "results", "--json"}, folder.path());
  CHECK(run.status == 1);
  const auto objects = nlohmann::json::parse(run.out);
  const auto rows = csv_rows(bytes_of(folder.path() / "results/summary.csv"));
  REQUIRE(objects.size() == 2);
  REQUIRE(rows.size() == 2);
  for (std::size_t i = 0; i < 2; ++i) {
    CHECK(objects[i].size() == rows[i].size());
    for (const auto& [column, cell] : rows[i]) {
      INFO(column);
      const auto& value = objects[i].at(column);
      if (cell.empty())
        CHECK(value.is_null());
      else if (value.is_string())
        CHECK(value.get<std::string>() == cell);
      else
        CHECK(value.get<double>() == Approx(std::stod(cell)).epsilon(1e-12));
    }
  }
}

TEST_CASE("the quiet option prints nothing, and errors still go to stderr", "[cli][finders]") {
  const TemporaryFolder folder;
  const Run run = measured_copies(folder.path(), {"core.jpg"}, {"--quiet"});
  CHECK(run.status == 0);
  CHECK(run.out.empty());
  CHECK(run.err.empty());
  CHECK(!run_corefleck({"measure", "missing.jpg", "--out", "results", "--quiet"}, folder.path()).err.empty());
}

TEST_CASE("a full disk behind stdout is a failure, the files are written all the same", "[cli][finders]") {
  if (!fs::exists("/dev/full")) return;
  const TemporaryFolder folder;
  fs::copy_file(scene("plain", 1).photo, folder.path() / "core.jpg");
  const std::string line = std::string(COREFLECK_PROGRAM) + " measure core.jpg --out results ";
  CHECK(run("/bin/sh", {"-c", line + "> /dev/full"}, folder.path()).status == 1);
  CHECK(fs::exists(folder.path() / "results/core/record.json"));
  const Run piped = run("/bin/bash", {"-c", line + "| true; exit ${PIPESTATUS[0]}"}, folder.path());
  CHECK(piped.status == 0);
  CHECK(piped.err.empty());
}

// A locale of the test's own: the machine need not have one installed.
TEST_CASE("figures have a decimal point under a locale with decimal commas", "[cli][finders]") {
  const TemporaryFolder plain, comma, locales;
  const std::string built = (locales.path() / "de_DE.UTF-8").string();
  const std::string command = "localedef -i de_DE -f UTF-8 '" + built + "' >/dev/null 2>&1";
  if (std::system(command.c_str()) != 0) {
    WARN("skipped: localedef cannot build de_DE (package locales)");
    return;
  }
  const Environment german{{"LOCPATH", locales.path().string()}, {"LC_ALL", "de_DE.UTF-8"}};
  const std::string proof =
      "LOCPATH='" + locales.path().string() + "' LC_ALL=de_DE.UTF-8 locale decimal_point | grep -qx ,";
  REQUIRE(std::system(proof.c_str()) == 0);
  const Arguments arguments{
      "measure", scene("plain", 1).photo.string(), "--out", "results", "--min-spot-mm", "0.75"};
  CHECK(run_corefleck(arguments, plain.path(), {{"LC_ALL", "C"}}).status == 0);
  CHECK(run_corefleck(arguments, comma.path(), german).status == 0);
  const std::vector<std::string> names = names_under(plain.path() / "results");
  CHECK(names_under(comma.path() / "results") == names);
  for (const std::string& name : names)
    if (fs::is_regular_file(plain.path() / "results" / name))
      CHECK(bytes_of(comma.path() / "results" / name) == bytes_of(plain.path() / "results" / name));
}

TEST_CASE("a set-up file sets options, and the command line wins over it", "[cli][finders]") {
  const TemporaryFolder folder;
  write_bytes(folder.path() / "practice.toml",
              "bar_tolerance_pct = 0.1\nmin-spot-mm = 0.8\nstate = \"dry\"\nsize-classes = \"R10\"\n");
  const Run run =
      measured_copies(folder.path(), {"core.jpg"}, {"--setup", "practice.toml", "--min-spot-mm", "0.6"});
  INFO(run.err);
  CHECK(run.status == 0);
  const auto options =
      nlohmann::json::parse(bytes_of(folder.path() / "results/core/record.json")).at("options");
  CHECK(options.at("bar-tolerance-pct") == 0.1);
  CHECK(options.at("min-spot-mm") == 0.6);
  CHECK(options.at("state") == "dry");
  CHECK(options.at("size-classes") == "R10");
  CHECK(options.at("card-reflectance") == 0.18);
}

TEST_CASE("measuring without a card leaves absolute lightness empty", "[cli][finders]") {
  const TemporaryFolder folder;
  const Scene bare = scene("no-card", 2, {"card=none"});
  Arguments arguments{"measure",
                      bare.photo.string(),
                      "--out",
                      "results",
                      "--no-card",
                      "--bar-blocks",
                      std::to_string(bare.truth.at("bar_blocks").get<int>()),
                      "--bar-length-mm",
                      std::to_string(bare.truth.at("bar_length_mm").get<double>())};
  CHECK(run_corefleck(arguments, folder.path()).status == 0);
  const Row row = csv_rows(bytes_of(folder.path() / "results/summary.csv")).at(0);
  CHECK_THAT(row.at("cautions"), Contains("no_card"));
  for (const char* column : {"matrix_L", "spot_L", "contrast_dL", "contrast_dL_u95"})
    CHECK(row.at(column).empty());
  CHECK(!row.at("area_fraction_pct").empty());
}

// Bounds for single photos of 3 megapixels: wide enough for one scene, narrow enough that a wrong unit,
// definition or sign shows. Bias and coverage over many scenes are the accuracy tool's business.
TEST_CASE("rendered photos are measured close to their truth", "[cli][finders]") {
  for (const int seed : {1, 3, 5}) {
    const Scene made = many_spots(seed);
    const TemporaryFolder folder;
    const Row row = measured_scene(made, folder.path());
    CAPTURE(seed);
    const auto truth = [&](const char* key) { return made.truth.at(key).get<double>(); };
    // Spots near 0.5 mm, or fewer than 6 pixels across, are reported or not by a hair: the count lies between
    // those that must be and those that may be.
    double required = 0, allowed = 0;
    for (const auto& spot : made.truth.at("spots")) {
      const double ecd_mm = spot.at("ecd_mm").get<double>();
      required += ecd_mm >= 0.55 && ecd_mm >= 6.0 * truth("mm_per_px") ? 1 : 0;
      allowed += ecd_mm >= 0.45 ? 1 : 0;
    }
    CHECK(number(row, "mm_per_px") == Approx(truth("mm_per_px")).epsilon(0.005));
    CHECK(number(row, "core_diameter_mm") == Approx(truth("core_diameter_mm")).epsilon(0.005));
    CHECK(std::abs(number(row, "tilt_deg") - truth("tilt_deg")) < 1.5);
    CHECK(number(row, "area_fraction_pct") == Approx(truth("area_fraction_pct")).epsilon(0.05));
    CHECK(number(row, "spot_count") >= 0.95 * required);
    CHECK(number(row, "spot_count") <= 1.05 * allowed);
    CHECK(std::abs(number(row, "matrix_L") - truth("matrix_L")) < 1.5);
    CHECK(std::abs(number(row, "contrast_dL") - truth("contrast_dL")) < 1.5);
  }
}

TEST_CASE("several faces close with their mean, in the terminal and in faces.csv", "[cli][finders]") {
  const TemporaryFolder folder;
  const Arguments photos{
      scene("plain", 1).photo.string(), many_spots(3).photo.string(), many_spots(4).photo.string()};
  Arguments arguments{"measure", "--out", "results"};
  arguments.insert(arguments.end(), photos.begin(), photos.end());
  const Run run = run_corefleck(arguments, folder.path());
  CHECK(run.status == 0);
  CHECK_THAT(run.out,
             Contains("Mean over 3 faces") && Contains("sample of the pool") && Contains("faces.csv"));
  double sum = 0.0;
  for (const Row& row : csv_rows(bytes_of(folder.path() / "results/summary.csv")))
    sum += number(row, "area_fraction_pct");
  const auto faces = csv_rows(bytes_of(folder.path() / "results/faces.csv"));
  REQUIRE(faces.size() == 1);
  CHECK(faces[0].at("faces") == "3");
  CHECK(number(faces[0], "area_fraction_mean_pct") == Approx(sum / 3.0).epsilon(1e-5));
  // Student's factor of two degrees of freedom, 4.303 (ASTM E562, Table 1).
  CHECK(number(faces[0], "area_fraction_u95_pct") ==
        Approx(4.303 * number(faces[0], "area_fraction_sd_pct") / std::sqrt(3.0)).epsilon(1e-4));

  // One photo alone has no mean, and the mean of the former run goes.
  CHECK(run_corefleck({"measure", photos[0], "--out", "results"}, folder.path()).status == 0);
  CHECK(!fs::exists(folder.path() / "results/faces.csv"));
}
