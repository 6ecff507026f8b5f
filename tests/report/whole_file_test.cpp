#include "report/made_face.hpp"
#include "report/scratch_folder.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <set>

using namespace corefleck;
using namespace corefleck::testing;

namespace {

std::set<std::string> names_in(const std::filesystem::path& folder) {
  std::set<std::string> names;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(folder))
    names.insert(entry.path().lexically_relative(folder).string());
  return names;
}

const MeasuredFace& made() {
  static const MeasuredFace face = made_face({.spots = 6, .pitch_mm = 0.2});
  return face;
}

}  // namespace

TEST_CASE("whole file: the bytes come to their name and no other name is left", "[report]") {
  const ScratchFolder folder;
  REQUIRE(write_whole(folder.path() / "a.csv", "first"));
  REQUIRE(write_whole(folder.path() / "a.csv", std::string_view("b\0c", 3)));
  CHECK(bytes_of(folder.path() / "a.csv") == std::string("b\0c", 3));
  CHECK(names_in(folder.path()) == std::set<std::string>{"a.csv"});
}

// By a file where the folder should be, and a folder where the file should be: root may write anywhere else.
TEST_CASE("whole file: a path that cannot be written is an error and leaves nothing", "[report]") {
  const ScratchFolder folder;
  REQUIRE(write_whole(folder.path() / "file", "x"));
  std::filesystem::create_directory(folder.path() / "taken");
  for (const auto& path :
       {folder.path() / "file" / "a.csv", folder.path() / "missing" / "a.csv", folder.path() / "taken"}) {
    const auto written = write_whole(path, "bytes");
    REQUIRE_FALSE(written);
    CHECK(written.error().code == ErrorCode::cannot_write);
    CHECK(written.error().what.find(path.string()) != std::string::npos);
  }
  CHECK(names_in(folder.path()) == std::set<std::string>{"file", "taken"});
}

TEST_CASE("face folder: is made where missing and holds the six files", "[report]") {
  const ScratchFolder folder;
  REQUIRE(write_face(made(), made_context(), folder.path() / "new" / "core 07"));
  CHECK(names_in(folder.path() / "new" / "core 07") ==
        std::set<std::string>{
            "overlay.png", "record.json", "report.html", "sizes.csv", "spots.csv", "spots.tif"});
  CHECK(bytes_of(folder.path() / "new" / "core 07" / "spots.csv") == spots_csv(made().figures));
}

TEST_CASE("face folder: a folder under a file is an error and leaves nothing", "[report]") {
  const ScratchFolder folder;
  REQUIRE(write_whole(folder.path() / "file", "x"));
  const auto written = write_face(made(), made_context(), folder.path() / "file" / "core 07");
  REQUIRE_FALSE(written);
  CHECK(written.error().code == ErrorCode::cannot_write);
  CHECK(names_in(folder.path()) == std::set<std::string>{"file"});
}

TEST_CASE("face folder: when one file cannot be written, the earlier ones stay as they were", "[report]") {
  const ScratchFolder folder;
  REQUIRE(write_whole(folder.path() / "spots.csv", "of an earlier run"));
  std::filesystem::create_directory(folder.path() / "spots.tif");
  REQUIRE_FALSE(write_face(made(), made_context(), folder.path()));
  CHECK(bytes_of(folder.path() / "spots.csv") == "of an earlier run");
  CHECK(names_in(folder.path()) == std::set<std::string>{"spots.csv", "spots.tif"});
}

TEST_CASE("face folder: written twice, every file has the same bytes", "[report]") {
  const ScratchFolder folder;
  REQUIRE(write_face(made(), made_context(), folder.path() / "one"));
  REQUIRE(write_face(made(), made_context(), folder.path() / "two"));
  for (const auto& name : names_in(folder.path() / "one"))
    CHECK(bytes_of(folder.path() / "one" / name) == bytes_of(folder.path() / "two" / name));
}
