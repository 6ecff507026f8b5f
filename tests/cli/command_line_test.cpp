#include "all_cautions.hpp"
#include "cli/program.hpp"

#include <catch2/catch.hpp>

// What the program says before it measures: help, wrong command lines, set-up files, outputs that cannot be
// written.

using namespace corefleck::testing;
using Catch::Matchers::Contains;
using Catch::Matchers::StartsWith;

namespace {

/// Exit 2, one line on stderr that names `named`, and nothing written.
void check_refused(const Arguments& arguments,
                   const std::string& named,
                   const Environment& environment = {}) {
  const TemporaryFolder folder;
  write_bytes(folder.path() / "photo.jpg", "not a photo");
  const Run run = run_corefleck(arguments, folder.path(), environment);
  CAPTURE(run.err);
  CHECK(run.status == 2);
  CHECK(run.out.empty());
  CHECK(lines_of(run.err).size() == 1);
  CHECK_THAT(run.err, StartsWith("corefleck: "));
  CHECK_THAT(run.err, Contains(named));
  CHECK(names_under(folder.path()) == std::vector<std::string>{"photo.jpg"});
}

void check_setup_refused(const std::string& toml, const std::string& named) {
  const TemporaryFolder folder;
  write_bytes(folder.path() / "practice.toml", toml);
  const Run run =
      run_corefleck({"measure", "photo.jpg", "--out", "results", "--setup", "practice.toml"}, folder.path());
  CAPTURE(toml, run.err);
  CHECK(run.status == 2);
  CHECK(lines_of(run.err).size() == 1);
  CHECK_THAT(run.err, StartsWith("corefleck: practice.toml: "));
  CHECK_THAT(run.err, Contains(named));
  CHECK(names_under(folder.path()) == std::vector<std::string>{"practice.toml"});
}

Arguments with(const Arguments& more) {
  Arguments arguments{"measure", "photo.jpg", "--out", "results"};
  arguments.insert(arguments.end(), more.begin(), more.end());
  return arguments;
}

}  // namespace

TEST_CASE("help and version go to stdout and end with 0", "[cli]") {
  const TemporaryFolder folder;
  for (const Arguments& arguments : {Arguments{"--help"},
                                     Arguments{"measure", "--help"},
                                     Arguments{"measure", "-h"},
                                     Arguments{"--version"},
                                     Arguments{"measure", "--version"}}) {
    const Run run = run_corefleck(arguments, folder.path());
    CHECK(run.status == 0);
    CHECK(!run.out.empty());
    CHECK(run.err.empty());
  }
  CHECK(run_corefleck({"--version"}, folder.path()).out == "corefleck " COREFLECK_VERSION "\n");
}

TEST_CASE("help of measure names every option of the contract, exit statuses and examples", "[cli]") {
  const TemporaryFolder folder;
  const std::string help = run_corefleck({"measure", "--help"}, folder.path()).out;
  for (const char* option : {"--out",
                             "--card-reflectance",
                             "--bar-length-mm",
                             "--bar-blocks",
                             "--core-diameter-mm",
                             "--state",
                             "--min-spot-mm",
                             "--flat-frame",
                             "--core-at",
                             "--card-at",
                             "--bar-ends",
                             "--no-card",
                             "--jobs",
                             "--setup",
                             "--max-megapixels",
                             "--size-classes",
                             "--rim-band-mm",
                             "--bar-tolerance-pct",
                             "--bar-height-mm",
                             "--json",
                             "--quiet",
                             "Exit status",
                             "Examples"})
    CHECK_THAT(help, Contains(option));
}

TEST_CASE("a wrong command line ends with 2, names what is wrong and writes nothing", "[cli]") {
  check_refused({}, "command");
  check_refused({"measur"}, "measur");
  check_refused({"measure", "--out", "results"}, "PHOTO");
  check_refused({"measure", "photo.jpg"}, "--out");
  check_refused({"measure", "photo.jpg", "--out", ""}, "--out");
  check_refused(with({"--colour"}), "--colour");
  check_refused(with({"--min-spot-mm"}), "--min-spot-mm");
  check_refused(with({"--min-spot-mm", "1", "--min-spot-mm", "2"}), "--min-spot-mm");
}

TEST_CASE("impossible values end with 2, with the option, the value and what is possible", "[cli]") {
  check_refused(with({"--card-reflectance", "1.4"}),
                "--card-reflectance = 1.4; must be above 0 and at most 1");
  for (const auto& [option, value] :
       std::vector<std::pair<std::string, std::string>>{{"--card-reflectance", "0"},
                                                        {"--card-reflectance", "nan"},
                                                        {"--card-reflectance", "0,18"},
                                                        {"--bar-length-mm", "-50"},
                                                        {"--bar-length-mm", "inf"},
                                                        {"--bar-length-mm", "50mm"},
                                                        {"--bar-blocks", "1"},
                                                        {"--bar-blocks", "5.5"},
                                                        {"--bar-tolerance-pct", "-1"},
                                                        {"--bar-height-mm", "-1"},
                                                        {"--core-diameter-mm", "0"},
                                                        {"--state", "damp"},
                                                        {"--min-spot-mm", "0"},
                                                        {"--rim-band-mm", "-0.1"},
                                                        {"--size-classes", "R3"},
                                                        {"--core-at", "1,2"},
                                                        {"--core-at", "1,2,0"},
                                                        {"--card-at", "1,2,3,x"},
                                                        {"--card-at", "1,2,0,4"},
                                                        {"--bar-ends", "1,2,1,2"},
                                                        {"--max-megapixels", "0"},
                                                        {"--jobs", "0"},
                                                        {"--jobs", "two"},
                                                        {"--bar-tolerance-pct", "11"},
                                                        {"--bar-height-mm", "1001"},
                                                        {"--bar-length-mm", "10001"},
                                                        {"--core-diameter-mm", "1e7"},
                                                        {"--rim-band-mm", "101"},
                                                        {"--min-spot-mm", "101"},
                                                        {"--min-spot-mm", ""}})
    check_refused(with({option, value}), option + " = ");
  check_refused(with({"--rim-band-mm", "101"}), "--rim-band-mm = 101; must be at least 0 and at most 100");
  check_refused(with({"--core-diameter-mm", "1e7"}), "at most 1000000");
  check_refused(with({"--core-at", "1,2,nan"}), "must be 3 numbers");
}

TEST_CASE("options that exclude each other end with 2", "[cli]") {
  check_refused(with({"--no-card", "--card-at", "1,2,3,4"}), "--card-at");
}

TEST_CASE("a flat frame that cannot be read ends with 2, since it serves the whole run", "[cli]") {
  check_refused(with({"--flat-frame", "missing.jpg"}), "--flat-frame");
  check_refused(with({"--flat-frame", "photo.jpg"}), "photo.jpg");
}

TEST_CASE("a wrong set-up file ends with 2 and names file, line, key and remedy", "[cli]") {
  check_setup_refused("card-reflectence = 0.18\n", "line 1: card-reflectence is not an option");
  check_setup_refused("# ours\nbar-blocks = \"5\"\n",
                      "line 2: bar-blocks has a value of the wrong type; give a whole number");
  check_setup_refused("no-card = 1\n", "give true or false");
  check_setup_refused("state = true\n", "give a text in quotes");
  check_setup_refused("core-at = \"1,2,3\"\n", "give a list of numbers");
  check_setup_refused("card-reflectance = 1.4\n", "card-reflectance = 1.4; must be above 0 and at most 1");
  check_setup_refused("card-reflectance = nan\n", "card-reflectance");
  check_setup_refused("[bar]\nblocks = 5\n", "bar is not an option");
  check_setup_refused("bar-blocks =\n", "line 1");
  check_refused(with({"--setup", "missing.toml"}), "missing.toml");
  check_refused(with({"--setup", "."}), "cannot be read");
}

TEST_CASE("an output that cannot be written is refused before the long work", "[cli]") {
  check_refused({"measure", "photo.jpg", "--out", "photo.jpg/results"}, "photo.jpg/results");
  check_refused({"measure", "photo.jpg", "--out", "photo.jpg"}, "photo.jpg");
  check_refused({"measure", "photo.jpg", "--out", "/proc/results"}, "/proc/results");
}

TEST_CASE("a photo that lies where results are written is refused", "[cli]") {
  const TemporaryFolder folder;
  fs::create_directories(folder.path() / "results/overlay");
  write_bytes(folder.path() / "results/overlay/overlay.png", "an older result");
  const Run run =
      run_corefleck({"measure", "results/overlay/overlay.png", "--out", "results"}, folder.path());
  CHECK(run.status == 2);
  CHECK_THAT(run.err, Contains("results/overlay/overlay.png"));
  CHECK(bytes_of(folder.path() / "results/overlay/overlay.png") == "an older result");
  write_bytes(folder.path() / "core", "a photo without extension");
  CHECK(run_corefleck({"measure", "core", "--out", "."}, folder.path()).status == 2);
  write_bytes(folder.path() / "summary.csv", "a photo with an odd name");
  CHECK(run_corefleck({"measure", "summary.csv", "--out", "."}, folder.path()).status == 2);
  CHECK(bytes_of(folder.path() / "summary.csv") == "a photo with an odd name");
}

TEST_CASE("every option of measure stands in README.md, and every caution", "[cli]") {
  const TemporaryFolder folder;
  const std::string readme = bytes_of(COREFLECK_README);
  for (const std::string& line : lines_of(run_corefleck({"measure", "--help"}, folder.path()).out)) {
    const std::size_t start = line.find("  --");
    if (start != 0) continue;
    const std::string option = line.substr(2, line.find(' ', 2) - 2);
    if (option != "--version") CHECK_THAT(readme, Contains("| `" + option));
  }
  for (const corefleck::CautionKind caution : all_cautions()) {
    const std::string row =
        "| `" + std::string(name(caution)) + "` | " + std::string(meaning(caution)) + " | ";
    CHECK_THAT(readme, Contains(row + std::string(remedy(caution)) + " |"));
  }
}
