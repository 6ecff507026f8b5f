#include "edits/edited_face.hpp"

#include "corefleck/measurement.hpp"

#include <catch2/catch.hpp>

// All values by hand: the spots are squares, so that pixels can be counted.

using namespace corefleck;
using namespace corefleck::testing;
using Catch::Matchers::Contains;

namespace {

EditedMap edited(const EditedFace& made, std::vector<Edit> list) {
  auto result = with_edits(made.face, made.map, edits_on(made, std::move(list)), Millimetres{0.5});
  INFO((result ? std::string() : result.error().what));
  REQUIRE(result);
  return *std::move(result);
}

std::string refusal(const EditedFace& made, std::vector<Edit> list) {
  const auto result = with_edits(made.face, made.map, edits_on(made, std::move(list)), Millimetres{0.5});
  REQUIRE(!result);
  CHECK(result.error().code == ErrorCode::bad_edits);
  CHECK(!result.error().hint.empty());
  return result.error().what;
}

int pixels(const cv::Mat& labels, int id) { return cv::countNonZero(labels == id); }

}  // namespace

TEST_CASE("edits: a struck spot is gone, its number goes to no other, and what was found stays", "[edits]") {
  const EditedFace made = two_squares();
  const EditedMap after = edited(made, {spot_edit(EditKind::strike, 2, kPlaceOfTwo)});
  REQUIRE(after.spots.spots.size() == 1);
  CHECK(after.spots.spots[0].id == 1);
  CHECK(pixels(after.spots.labels, 2) == 0);
  CHECK(after.spots.measured_area_px == made.map.measured_area_px);
  CHECK(after.outcomes[0].area_px == 100.0);
  CHECK(pixels(made.map.labels, 2) == 100);
  CHECK(made.map.spots.size() == 2);
}

TEST_CASE("edits: once no spot is left that may be a reflection, neither is the caution", "[edits]") {
  EditedFace made = two_squares();
  made.map.cautions = {{CautionKind::reflections_possible, ""}};
  made.map.spots[0].may_be_reflection = made.map.spots[1].may_be_reflection = true;
  CHECK(edited(made, {spot_edit(EditKind::strike, 2, kPlaceOfTwo)}).spots.cautions.size() == 1);
  made.map.spots[0].may_be_reflection = false;
  CHECK(edited(made, {spot_edit(EditKind::strike, 2, kPlaceOfTwo)}).spots.cautions.empty());
}

TEST_CASE("edits: a restored spot is as it was", "[edits]") {
  const EditedFace made = two_squares();
  const EditedMap after = edited(
      made, {spot_edit(EditKind::strike, 2, kPlaceOfTwo), spot_edit(EditKind::restore, 2, kPlaceOfTwo)});
  CHECK(after.spots.spots.size() == 2);
  CHECK(cv::countNonZero(after.spots.labels != made.map.labels) == 0);
}

TEST_CASE("edits: an added spot holds the pixels inside its outline that no other spot has", "[edits]") {
  const EditedFace made = two_squares();
  // 20 columns by 10 rows, of which the right half lies on spot 2.
  const EditedMap after = edited(made, {area_edit(EditKind::add, around_pixels({110, 50, 20, 10}))});
  REQUIRE(after.spots.spots.size() == 3);
  const Region& added = after.spots.spots[2];
  CHECK(added.id == 3);
  CHECK(added.origin == RegionOrigin::drawn);
  CHECK(added.area_px == 100.0);
  CHECK(added.box == cv::Rect(110, 50, 10, 10));
  CHECK(pixels(after.spots.labels, 2) == 100);
}

TEST_CASE("edits: an added spot never takes the number of one that was struck", "[edits]") {
  const EditedFace made = two_squares();
  const EditedMap after = edited(made,
                                 {spot_edit(EditKind::strike, 2, kPlaceOfTwo),
                                  area_edit(EditKind::add, around_pixels({120, 50, 10, 10}))});
  CHECK(after.spots.spots.back().id == 3);
  CHECK(pixels(after.spots.labels, 3) == 100);
}

TEST_CASE("edits: an excluded area leaves the measured area, and cuts a spot by its pixels", "[edits]") {
  const EditedFace made = two_squares();
  // 30 by 40 px, of which 10 by 40 lie on spot 1: three quarters of it are left.
  const EditedMap after = edited(made, {area_edit(EditKind::exclude, around_pixels({90, 80, 30, 40}))});
  CHECK(after.spots.measured_area_px == made.map.measured_area_px - 1200.0);
  CHECK(after.outcomes[0].area_px == 1200.0);
  CHECK(after.outcomes[0].spot_ids == std::vector<int>{1});
  REQUIRE(after.spots.spots.size() == 2);
  CHECK(after.spots.spots[0].origin == RegionOrigin::cut);
  CHECK(after.spots.spots[0].area_px == 1200.0);
  CHECK(after.spots.spots[0].u_area_px == Approx(0.75 * 0.02 * 1600.0));
  CHECK(after.spots.spots[1].origin == RegionOrigin::found);
}

TEST_CASE("edits: what is left of a spot and smaller than the smallest goes with the area", "[edits]") {
  const EditedFace made = two_squares();
  // 10 px of spot 2 stay: 0.1 mm2, and a spot of 0.5 mm has 0.196 mm2.
  const EditedMap after = edited(made, {area_edit(EditKind::exclude, around_pixels({120, 50, 9, 10}))});
  CHECK(after.spots.spots.size() == 1);
  CHECK(after.spots.measured_area_px == made.map.measured_area_px - 100.0);
  CHECK(pixels(after.spots.labels, 2) == 0);
}

TEST_CASE("edits: two areas over one another are left out once", "[edits]") {
  const EditedFace made = two_squares();
  const EditedMap after = edited(made,
                                 {area_edit(EditKind::exclude, around_pixels({100, 130, 20, 10})),
                                  area_edit(EditKind::exclude, around_pixels({110, 130, 20, 10}))});
  CHECK(after.spots.measured_area_px == made.map.measured_area_px - 300.0);
  CHECK(after.outcomes[1].area_px == 100.0);
}

TEST_CASE("edits: a pit whose middle is left out is not counted", "[edits]") {
  EditedFace made = two_squares();
  made.map.pits = {square_region(1, {140, 100, 6, 6}), square_region(2, {100, 150, 6, 6})};
  const EditedMap after = edited(made, {area_edit(EditKind::exclude, around_pixels({139, 99, 5, 5}))});
  REQUIRE(after.spots.pits.size() == 1);
  CHECK(after.spots.pits[0].id == 2);
}

TEST_CASE("edits: a drawn square is measured by its pixels", "[edits]") {
  EditedFace made = two_squares();
  made.face.luminance(cv::Rect(90, 140, 20, 10)).setTo(0.5F);
  const EditedMap after = edited(made, {area_edit(EditKind::add, around_pixels({90, 140, 20, 10}))});
  const FaceMeasurement figures = measure(made.face, after.spots, {});
  const SpotFigures& added = figures.spots.at(2);
  CHECK(added.area.value.number() == Approx(2.0));
  CHECK(added.x_mm == Approx(-0.05));
  CHECK(added.y_mm == Approx(-4.45));
  CHECK(added.solidity == Approx(1.0));
  CHECK(added.feret_max.number() == Approx(std::hypot(2.0, 1.0)));
  CHECK(added.feret_min.number() == Approx(1.0));
  CHECK(added.contrast_weber == Approx(0.5 / 0.21 - 1.0).epsilon(1e-5));
}

TEST_CASE("edits: what does not fit the face is refused with file, edit and remedy", "[edits]") {
  const EditedFace made = two_squares();
  CHECK_THAT(refusal(made, {spot_edit(EditKind::strike, 7, kPlaceOfTwo)}),
             Contains("edits.json: edit 1: there is no spot 7"));
  CHECK_THAT(refusal(made, {spot_edit(EditKind::strike, 2, kPlaceOfOne)}), Contains("away from the place"));
  CHECK_THAT(
      refusal(made,
              {spot_edit(EditKind::strike, 2, kPlaceOfTwo), spot_edit(EditKind::strike, 2, kPlaceOfTwo)}),
      Contains("edit 2: spot 2 is struck already"));
  CHECK_THAT(refusal(made, {spot_edit(EditKind::restore, 2, kPlaceOfTwo)}), Contains("not struck"));
  CHECK_THAT(refusal(made, {area_edit(EditKind::add, around_pixels({120, 50, 10, 10}))}),
             Contains("nothing of"));
  CHECK_THAT(refusal(made, {area_edit(EditKind::add, around_pixels({100, 150, 3, 3}))}),
             Contains("smaller than 0.5"));
  CHECK_THAT(refusal(made, {area_edit(EditKind::exclude, around_pixels({0, 0, 201, 201}))}),
             Contains("nothing of the face"));
}

TEST_CASE("edits: those drawn on another scale or grid are refused", "[edits]") {
  const EditedFace made = two_squares();
  Edits edits = edits_on(made, {});
  edits.mm_per_px = 0.1001;
  CHECK(!with_edits(made.face, made.map, edits, Millimetres{0.5}));
  edits = edits_on(made, {});
  edits.grid_size_px = 203;
  CHECK(!with_edits(made.face, made.map, edits, Millimetres{0.5}));
}
