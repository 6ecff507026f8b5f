#include "comparison/groups.hpp"
#include "drawn_core.hpp"

#include <catch2/catch.hpp>

#include <algorithm>

// Discs at known places on drawn faces, laid onto each other by the true map.

using namespace corefleck;
using namespace corefleck::testing;

namespace {

FaceChanges compared(const DrawnCore& before, const DrawnCore& after) {
  const auto first = drawn_core(before), second = drawn_core(after);
  return compare_faces(first->to_compare(), second->to_compare(), true_registration(before, after));
}

DrawnCore turned(std::vector<DrawnSpot> spots) {
  DrawnCore core;
  core.turn_deg = 50.0;
  core.moved_mm = {0.3, 0.2};
  core.spots = std::move(spots);
  return core;
}

const SpotChange& only(const FaceChanges& changes, ChangeKind kind) {
  const auto found = std::find_if(
      changes.changes.begin(), changes.changes.end(), [kind](const SpotChange& c) { return c.kind == kind; });
  REQUIRE(found != changes.changes.end());
  REQUIRE(changes.count(kind) == 1);
  return *found;
}

}  // namespace

TEST_CASE("changes: an unchanged face has steady spots alone", "[comparison]") {
  const std::vector<DrawnSpot> spots{{0, 0, 3}, {10, 5, 1}, {-9, 12, 2}};
  const FaceChanges changes = compared({.spots = spots}, turned(spots));
  CHECK(changes.count(ChangeKind::steady) == 3);
  CHECK(changes.changes.size() == 3);
  CHECK(std::abs(changes.fraction_change.value.number()) < 1e-9);
  CHECK(changes.count_before == 3);
  CHECK(changes.count_after == 3);
}

TEST_CASE("changes: new, gone, grown and shrunk are told apart, with areas and places by hand",
          "[comparison]") {
  const FaceChanges changes = compared({.spots = {{0, 0, 3}, {10, 5, 2}, {-9, 12, 2}, {4, -15, 2}}},
                                       turned({{0, 0, 3}, {10, 5, 3}, {-9, 12, 1.2}, {-12, -9, 1.5}}));
  CHECK(changes.count(ChangeKind::steady) == 1);
  const SpotChange& grown = only(changes, ChangeKind::grown);
  CHECK(grown.before_ids == std::vector<int>{2});
  CHECK(grown.after_ids == std::vector<int>{2});
  CHECK(grown.area_change->value.number() == Approx(CV_PI / 4.0 * (9.0 - 4.0)).epsilon(1e-9));
  CHECK(only(changes, ChangeKind::shrunk).before_ids == std::vector<int>{3});
  const SpotChange& fresh = only(changes, ChangeKind::fresh);
  CHECK(fresh.before_ids.empty());
  CHECK(!fresh.area_before);
  // Where it lies on the before photo, although only the after photo shows it.
  CHECK(fresh.x_mm == Approx(-12.0).margin(0.01));
  CHECK(fresh.y_mm == Approx(-9.0).margin(0.01));
  CHECK(only(changes, ChangeKind::gone).before_ids == std::vector<int>{4});
}

TEST_CASE("changes: a difference inside its uncertainty is steady", "[comparison]") {
  // Each area is known to 5 %; two photos share most of that. 0.5 % of the area is far inside.
  const FaceChanges changes = compared({.spots = {{0, 0, 3}}}, turned({{0, 0, 3.0075}}));
  CHECK(changes.count(ChangeKind::steady) == 1);
  const SpotChange& change = changes.changes.front();
  CHECK(std::abs(change.area_change->value.number()) < kCoverage95 * change.area_change->u.number());
}

TEST_CASE("changes: spots with matrix between them that become one have merged, and the reverse is split",
          "[comparison]") {
  const DrawnCore apart{.spots = {{-1.3, 0, 2}, {1.3, 0, 2}}}, joined = turned({{0, 0, 4.6}});
  const SpotChange merged = only(compared(apart, joined), ChangeKind::merged);
  CHECK(merged.before_ids == std::vector<int>{1, 2});
  CHECK(merged.after_ids == std::vector<int>{1});
  CHECK(only(compared(joined, apart), ChangeKind::split).after_ids == std::vector<int>{1, 2});
}

TEST_CASE("changes: spots parted only by a neck are compared together", "[comparison]") {
  // They touch: whether that is one spot or two is a question of the neck's breadth, not a change.
  const FaceChanges changes = compared({.spots = {{-1.0, 0, 2}, {1.0, 0, 2}}}, turned({{0, 0, 2.8284}}));
  const SpotChange& steady = only(changes, ChangeKind::steady);
  CHECK(steady.before_ids == std::vector<int>{1, 2});
  CHECK(steady.area_change->value.number() == Approx(0.0).margin(0.01));
}

TEST_CASE("changes: what the other photo shows a trace of is unclear, not new", "[comparison]") {
  const FaceChanges changes = compared({.faint = {{5, 5, 2}}}, turned({{5, 5, 2}}));
  CHECK(only(changes, ChangeKind::unclear).after_ids == std::vector<int>{1});
  CHECK(changes.count(ChangeKind::fresh) == 0);
}

TEST_CASE("changes: a spot where the other photo is not measured is not compared", "[comparison]") {
  const std::vector<DrawnSpot> spots{{27, 0, 2}, {-10, 0, 2}};
  DrawnCore after{.spots = {{-10, 0, 2}}};
  after.broken_deg = 90.0;
  const FaceChanges changes = compared({.spots = spots}, after);
  CHECK(only(changes, ChangeKind::unmeasured).before_ids == std::vector<int>{1});
  CHECK(changes.count(ChangeKind::gone) == 0);
  CHECK(changes.count(ChangeKind::steady) == 1);
  // The break covers a quarter of a ring 29 to 25 mm from the centre.
  CHECK(changes.common_area.number() ==
        Approx(CV_PI * (29.0 * 29.0 - (29.0 * 29.0 - 25.0 * 25.0) / 4.0)).epsilon(0.005));
}

TEST_CASE("changes: a spot under a dark mark of the other photo is not compared", "[comparison]") {
  const DrawnCore before{.spots = {{0, 0, 3}}}, after;
  const auto first = drawn_core(before), second = drawn_core(after);
  Region mark{};
  mark.id = 1;
  const double c = second->face.grid.centre_px;
  mark.outline = {{c - 60, c - 4}, {c + 60, c - 4}, {c + 60, c + 4}, {c - 60, c + 4}};
  mark.box = cv::Rect(static_cast<int>(c) - 60, static_cast<int>(c) - 4, 121, 9);
  second->map.pits.push_back(mark);
  const FaceChanges changes =
      compare_faces(first->to_compare(), second->to_compare(), true_registration(before, after));
  CHECK(changes.count(ChangeKind::unmeasured) == 1);
  CHECK(changes.count(ChangeKind::gone) == 0);
}

TEST_CASE("changes: areas are compared in the before photo's scale", "[comparison]") {
  const std::vector<DrawnSpot> spots{{0, 0, 3}, {8, 3, 2}};
  const DrawnCore before{.spots = spots};
  // The after photo's calibration is 2 % off: everything on it comes out larger, and the map says so.
  DrawnCore after;
  for (const DrawnSpot& spot : spots)
    after.spots.push_back({1.02 * spot.x, 1.02 * spot.y, 1.02 * spot.diameter});
  const auto first = drawn_core(before), second = drawn_core(after);
  Registration registration = true_registration(before, after);
  registration.first_to_second.linear = registration.first_to_second.linear * 1.02;
  const FaceChanges changes = compare_faces(first->to_compare(), second->to_compare(), registration);
  CHECK(changes.count(ChangeKind::steady) == 2);
  for (const SpotChange& change : changes.changes)
    CHECK(change.area_change->value.number() == Approx(0.0).margin(1e-6));
}

TEST_CASE("changes: faces without spots have no changes", "[comparison]") {
  const FaceChanges changes = compared({}, turned({}));
  CHECK(changes.changes.empty());
  CHECK(changes.fraction_change.value.number() == 0.0);
}
