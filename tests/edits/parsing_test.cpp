#include "corefleck/edits.hpp"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

using namespace corefleck;
using Catch::Matchers::Contains;
using Json = nlohmann::json;

namespace {

Json file_of(Json edits) {
  return {{"format", "corefleck edits"},
          {"version", 1},
          {"photo_sha256", std::string(64, '0')},
          {"grid_mm_per_px", 0.05},
          {"grid_size_px", 1200},
          {"edits", std::move(edits)}};
}

Json strike() {
  return {{"edit", "strike"},
          {"spot_id", 4},
          {"x_mm", 1.5},
          {"y_mm", -2.0},
          {"reason", "salt"},
          {"initials", "AB"}};
}

Json drawn(const char* kind) {
  return {{"edit", kind},
          {"outline_mm", {{0, 0}, {1, 0}, {0, 1}}},
          {"reason", "pencil"},
          {"initials", "CD"},
          {"at", "2026-11-25T10:00:00Z"}};
}

MeasureError refused(const std::string& text) {
  const auto edits = parse_edits(text, "e.json");
  REQUIRE(!edits);
  CHECK(edits.error().code == ErrorCode::bad_edits);
  CHECK(!edits.error().hint.empty());
  CHECK(edits.error().what.find('\n') == std::string::npos);
  return edits.error();
}

MeasureError refused_edit(Json edit) {
  return refused(file_of(Json::array({strike(), std::move(edit)})).dump());
}

Json without(Json object, const char* key) {
  object.erase(key);
  return object;
}

Json with(Json object, const char* key, Json value) {
  object[key] = std::move(value);
  return object;
}

}  // namespace

TEST_CASE("edits file: every kind is read as written", "[edits]") {
  const auto edits = parse_edits(file_of({strike(), drawn("add"), drawn("exclude")}).dump(), "e.json");
  REQUIRE(edits);
  CHECK(edits->photo_sha256 == std::string(64, '0'));
  CHECK(edits->mm_per_px == 0.05);
  REQUIRE(edits->list.size() == 3);
  CHECK(edits->list[0].kind == EditKind::strike);
  CHECK(edits->list[0].spot_id == 4);
  CHECK(edits->list[0].place_mm == cv::Point2d(1.5, -2.0));
  CHECK(edits->list[1].outline_mm.size() == 3);
  CHECK(edits->list[2].kind == EditKind::exclude);
  CHECK(edits->list[2].at == "2026-11-25T10:00:00Z");
  for (const EditKind kind : {EditKind::strike, EditKind::restore, EditKind::add, EditKind::exclude})
    CHECK(!name(kind).empty());
}

TEST_CASE("edits file: what is wrong is said in one line with its place", "[edits]") {
  CHECK_THAT(refused("{\n\"format\": 1,\n").what, Contains("e.json: line 3: is not JSON"));
  CHECK_THAT(refused("[1e999]").what, Contains("e.json: holds a number"));
  CHECK_THAT(refused("[]").what, Contains("is no edits file"));
  CHECK_THAT(refused(with(file_of(Json::array()), "version", 2).dump()).what, Contains("another version"));
  CHECK_THAT(refused(with(file_of(Json::array()), "photo_sha256", "AB").dump()).what, Contains("no SHA-256"));
  CHECK_THAT(refused(without(file_of(Json::array()), "grid_size_px").dump()).what, Contains("grid_size_px"));
  CHECK_THAT(refused(without(file_of(Json::array()), "edits").dump()).what, Contains("edits is missing"));
}

TEST_CASE("edits file: an edit without reason, initials, place or area is refused by its number", "[edits]") {
  CHECK_THAT(refused_edit(without(strike(), "reason")).what, Contains("e.json: edit 2: reason is missing"));
  CHECK_THAT(refused_edit(with(strike(), "reason", "  ")).what, Contains("edit 2: reason is empty"));
  CHECK_THAT(refused_edit(without(strike(), "initials")).what, Contains("initials is missing"));
  CHECK_THAT(refused_edit(with(strike(), "edit", "erase")).what, Contains("\"erase\" is no kind of edit"));
  CHECK_THAT(refused_edit(with(strike(), "spot_id", 1.5)).what, Contains("spot_id"));
  CHECK_THAT(refused_edit(with(strike(), "spot_id", 0)).what, Contains("spot_id"));
  CHECK_THAT(refused_edit(without(strike(), "y_mm")).what, Contains("y_mm"));
  CHECK_THAT(refused_edit(with(drawn("add"), "outline_mm", {{0, 0}, {1, 0}})).what,
             Contains("fewer than three"));
  CHECK_THAT(refused_edit(with(drawn("add"), "outline_mm", {{0, 0}, {1, 0}, {0}})).what,
             Contains("corner 3"));
  CHECK_THAT(refused_edit(with(drawn("add"), "outline_mm", {{0, 0}, {1, 0}, {0, 1e30}})).what,
             Contains("out of range"));
  CHECK_THAT(refused_edit(7).what, Contains("is not an object"));
}

TEST_CASE("edits file: belongs to the photo of its SHA-256 and to no other", "[edits]") {
  const auto edits = parse_edits(file_of(Json::array()).dump(), "e.json");
  REQUIRE(edits);
  CHECK(belongs_to(*edits, std::string(64, '0')));
  const auto other = belongs_to(*edits, std::string(64, '1'));
  REQUIRE(!other);
  CHECK_THAT(other.error().what, Contains("e.json: made for another photo"));
}
