#include "comparison/groups.hpp"
#include "comparison/junctions.hpp"
#include "comparison/light_of_change.hpp"
#include "drawn_core.hpp"

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

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

TEST_CASE("changes: numbers that a person struck leave the other spots' fates as they were", "[comparison]") {
  const DrawnCore before{.spots = {{0, 0, 3}, {10, 5, 2}, {-9, 12, 2}, {4, -15, 2}}},
      after = turned({{0, 0, 3}, {10, 5, 3}, {-9, 12, 2}, {4, -15, 2}});
  const auto first = drawn_core(before), second = drawn_core(after);
  first->map.labels.setTo(0, first->map.labels == 1);
  first->map.spots.erase(first->map.spots.begin());
  first->figures.spots.erase(first->figures.spots.begin());
  const FaceChanges changes =
      compare_faces(first->to_compare(), second->to_compare(), true_registration(before, after));
  CHECK(only(changes, ChangeKind::grown).before_ids == std::vector<int>{2});
  CHECK(changes.count(ChangeKind::steady) == 2);
  CHECK(changes.count_before == 3);
  CHECK(changes.count_after == 4);
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

namespace {

/// The map lists its two spots as one, although the photo shows them as they were drawn.
void join_outlines(DrawnPhoto& photo) {
  Region& one = photo.map.spots.front();
  const Region& other = photo.map.spots.back();
  one.area_px += other.area_px;
  one.u_area_px += other.u_area_px;
  std::vector<cv::Point2f> points(one.outline.begin(), one.outline.end()), hull;
  points.insert(points.end(), other.outline.begin(), other.outline.end());
  cv::convexHull(points, hull);
  one.outline.assign(hull.begin(), hull.end());
  one.box |= other.box;
  photo.map.labels.setTo(one.id, photo.map.labels == other.id);
  photo.map.spots.pop_back();
}

/// Both photos show the same two spots; the second one's map takes them for one.
FaceChanges joined_in_second(const DrawnCore& before, const DrawnCore& after) {
  const auto first = drawn_core(before), second = drawn_core(after);
  join_outlines(*second);
  return compare_faces(first->to_compare(), second->to_compare(), true_registration(before, after));
}

}  // namespace

TEST_CASE("changes: spots that only one photo's outlines part are compared together", "[comparison]") {
  // Touching discs, and discs 0.2 mm apart: nothing lies between them in one photo that the other lacks.
  for (const double x : {0.98, 1.1}) {
    const std::vector<DrawnSpot> two{{-x, 0, 2}, {x, 0, 2}};
    const SpotChange steady = only(joined_in_second({.spots = two}, turned(two)), ChangeKind::steady);
    CHECK(steady.before_ids == std::vector<int>{1, 2});
    CHECK(steady.area_change->value.number() == Approx(0.0).margin(1e-9));
  }
}

TEST_CASE("changes: a gap of two pixels that fills has merged, whichever photo has the finer grid",
          "[comparison]") {
  // 0.2 mm of matrix between two discs, and a disc over all of it. Seen on pixels of 0.12 and 0.08 mm.
  for (const auto& [pitch_before, pitch_after] : {std::pair{0.12, 0.08}, std::pair{0.08, 0.12}}) {
    DrawnCore apart{.pitch_mm = pitch_before, .spots = {{-1.1, 0, 2}, {1.1, 0, 2}}};
    DrawnCore joined = turned({{0, 0, 4.3}});
    joined.pitch_mm = pitch_after;
    CHECK(only(compared(apart, joined), ChangeKind::merged).before_ids == std::vector<int>{1, 2});
    CHECK(only(compared(joined, apart), ChangeKind::split).after_ids == std::vector<int>{1, 2});
  }
}

TEST_CASE("junctions: each of several spots has one to its nearest, a pair's only once", "[comparison]") {
  const auto photo = drawn_core({.grain = 0.0, .spots = {{-1.5, 0, 2}, {1.5, 0, 2}, {1.5, 4, 2}}});
  const auto junctions = junctions_between(photo->to_compare(), {1, 2, 3});
  REQUIRE(junctions.size() == 2);
  CHECK(cv::norm(junctions[0].mm - cv::Point2d(0, 0)) < 0.05);
  CHECK(junctions[1].one == 3);
  CHECK(junctions[1].other == 2);
  CHECK(cv::norm(junctions[1].mm - cv::Point2d(1.5, 2)) < 0.05);
}

TEST_CASE("junctions: what filled a gap of matrix gains the spots' whole contrast, a kept gap nothing",
          "[comparison]") {
  const DrawnCore apart{.grain = 0.0, .spots = {{-1.5, 0, 2}, {1.5, 0, 2}}};
  DrawnCore joined = turned({{0, 0, 5}});
  const auto first = drawn_core(apart), second = drawn_core(joined), same = drawn_core(apart);
  const Junction junction = junctions_between(first->to_compare(), {1, 2}).at(0);
  // 1 mm of matrix, ten pixels: by hand, 1 less 0.
  CHECK(*filled_at(junction, first->to_compare(), second->to_compare(), 1, true_transform(apart, joined)) ==
        Approx(1.0).margin(0.02));
  join_outlines(*same);
  CHECK(*filled_at(junction, first->to_compare(), same->to_compare(), 1, {}) == Approx(0.0).margin(1e-9));
  // Where a photo is not measured nothing can be said.
  same->map.outside.setTo(static_cast<double>(Outside::glare));
  CHECK(!filled_at(junction, first->to_compare(), same->to_compare(), 1, {}));
}

TEST_CASE("changes: a spot that only the outlines make larger is unclear, whichever photo is finer",
          "[comparison]") {
  for (const auto& [pitch_before, pitch_after] : {std::pair{0.12, 0.07}, std::pair{0.07, 0.12}}) {
    const DrawnCore before{.pitch_mm = pitch_before, .spots = {{0, 0, 2}}};
    DrawnCore same = turned({{0, 0, 2}}), larger = turned({{0, 0, 2.4}});
    same.pitch_mm = larger.pitch_mm = pitch_after;
    const auto first = drawn_core(before), light = drawn_core(same), outlines = drawn_core(larger);
    // The light of a spot of 2 mm under an outline of 2.4 mm.
    const FaceToCompare mistaken{light->face, outlines->map, outlines->figures};
    const Registration registration = true_registration(before, same);
    CHECK(only(compare_faces(first->to_compare(), mistaken, registration), ChangeKind::unclear).area_change);
    CHECK(compare_faces(first->to_compare(), outlines->to_compare(), registration).count(ChangeKind::grown) ==
          1);
  }
}

TEST_CASE("light: a change that is there shows whole, one of the outlines alone not at all", "[comparison]") {
  const DrawnCore before{.grain = 0.0, .spots = {{0, 0, 2}}};
  DrawnCore same = turned({{0, 0, 2}}), larger = turned({{0, 0, 2.4}});
  same.grain = larger.grain = 0.0;
  same.wet = larger.wet = true;  // darker by half: the level is no change
  const auto first = drawn_core(before), light = drawn_core(same), outlines = drawn_core(larger);
  for (const auto& photo : {&light, &outlines})
    for (Region& spot : (*photo)->map.spots) spot.ground = 0.11, spot.plateau = 0.4;
  const FaceTransform transform = true_transform(before, same);
  const auto shown = [&](const FaceToCompare& after) {
    return *change_shown_by_light(first->to_compare(), {1}, after, {1}, transform);
  };
  // By hand, 1 and 0: pixels of 0.1 mm leave a few per cent.
  CHECK(shown(outlines->to_compare()) == Approx(1.0).margin(0.05));
  CHECK(shown({light->face, outlines->map, outlines->figures}) == Approx(0.0).margin(0.05));
  // Where a photo is not measured nothing can be said.
  light->map.outside.setTo(static_cast<double>(Outside::glare));
  CHECK(!change_shown_by_light(first->to_compare(), {1}, light->to_compare(), {1}, transform));
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

namespace {

/// A dark mark of the map: a rectangle, mm, y up.
void add_mark(DrawnPhoto& photo, double left, double right, double bottom, double top) {
  const FaceGrid& grid = photo.face.grid;
  const double pitch = grid.pitch.number();
  const auto at = [&](double x, double y) {
    return cv::Point2d(grid.centre_px + x / pitch, grid.centre_px - y / pitch);
  };
  Region mark{};
  mark.id = static_cast<int>(photo.map.pits.size()) + 1;
  const std::vector<cv::Point2d> corners{
      at(left, top), at(right, top), at(right, bottom), at(left, bottom), at(left, top)};
  for (std::size_t i = 0; i + 1 < corners.size(); ++i) {
    const int steps = cvCeil(cv::norm(corners[i + 1] - corners[i]));
    for (int step = 0; step < steps; ++step)
      mark.outline.push_back(corners[i] + (1.0 * step / steps) * (corners[i + 1] - corners[i]));
  }
  mark.box = cv::Rect(cv::Point(at(left, top)), cv::Point(at(right, bottom)));
  photo.map.pits.push_back(mark);
}

FaceChanges compared(const DrawnPhoto& before, const DrawnPhoto& after) {
  return compare_faces(before.to_compare(), after.to_compare(), true_registration({}, {}));
}

/// Takes a bite of 0.8 x 1.6 mm out of the right side of the only spot, a disc of 6 mm at the face's centre;
/// the matrix shows there.
void bite(DrawnPhoto& photo) {
  Region& spot = photo.map.spots.front();
  const double c = photo.face.grid.centre_px, radius = 30.0, depth = 8.0, half = 8.0;
  const double from = std::asin(half / radius), left = c + radius - depth;
  spot.outline.clear();
  for (int step = 0; step <= 180; ++step) {
    const double angle = from + (2.0 * CV_PI - 2.0 * from) * step / 180;
    spot.outline.emplace_back(c + radius * std::cos(angle), c + radius * std::sin(angle));
  }
  spot.outline.emplace_back(left, c - half);
  spot.outline.emplace_back(left, c + half);
  const cv::Rect bitten(static_cast<int>(left), static_cast<int>(c - half), static_cast<int>(depth) + 1, 17);
  spot.area_px -= cv::countNonZero(photo.map.labels(bitten));
  photo.map.labels(bitten).setTo(0);
  photo.face.colour(cv::Rect(bitten.x / 2, bitten.y / 2, 5, 9)).setTo(cv::Scalar::all(0.2));
}

}  // namespace

TEST_CASE("changes: a spot parted by a dark line that goes on beyond it is not compared", "[comparison]") {
  // Where the line crosses the spot it is as light as the matrix: only its ends, clear of the parts, are
  // dark.
  const auto before = drawn_core({.grain = 0.0, .spots = {{0, 0, 6}}});
  const auto parted = drawn_core({.grain = 0.0, .spots = {{-1.6, 0, 2.4}, {1.6, 0, 2.4}}});
  CHECK(compared(*before, *parted).count(ChangeKind::split) == 1);
  add_mark(*parted, -0.4, 0.4, 3.2, 8.0);
  add_mark(*parted, -0.4, 0.4, -8.0, -3.2);
  CHECK(!only(compared(*before, *parted), ChangeKind::unmeasured).area_change);
  // The reverse: what a line parted before has not merged.
  CHECK(compared(*parted, *before).count(ChangeKind::unmeasured) == 1);
}

namespace {

/// A disc after the other, 3 mm from middle to middle, necks between them, all one spot of the map.
std::unique_ptr<DrawnPhoto> chain(int discs) {
  DrawnCore core{.grain = 0.0};
  for (int i = 0; i < discs; ++i) core.spots.push_back({3.0 * i, 0, 2.4});
  for (int i = 1; i < discs; ++i) core.spots.push_back({3.0 * i - 1.5, 0, 1.2});
  auto photo = drawn_core(core);
  while (photo->map.spots.size() > 1) join_outlines(*photo);
  return photo;
}

/// The same discs without necks.
std::unique_ptr<DrawnPhoto> apart(int discs) {
  DrawnCore core{.grain = 0.0};
  for (int i = 0; i < discs; ++i) core.spots.push_back({3.0 * i, 0, 2.4});
  return drawn_core(core);
}

}  // namespace

TEST_CASE("changes: a dark line over one part hides nothing of what parted elsewhere", "[comparison]") {
  const auto joined = chain(2), parted = apart(2);
  add_mark(*parted, 3.4, 4.1, -8.0, 8.0);
  CHECK(!only(compared(*joined, *parted), ChangeKind::split).area_change);
  CHECK(!only(compared(*parted, *joined), ChangeKind::merged).area_change);
}

TEST_CASE("changes: a dark line past two parts did not part them, one that ends between them may have",
          "[comparison]") {
  const auto joined = chain(2);
  const auto passed = apart(2), reached = apart(2);
  add_mark(*passed, -8.0, 8.0, -1.9, -1.45);  // a quarter of a millimetre below either part
  add_mark(*reached, 1.2, 1.8, -8.0, -0.9);
  CHECK(compared(*joined, *passed).count(ChangeKind::split) == 1);
  CHECK(!only(compared(*joined, *reached), ChangeKind::unmeasured).area_change);
}

TEST_CASE("changes: a dark line between two parts may be what parts them, and says nothing of a third",
          "[comparison]") {
  for (const auto& [discs, kind] : {std::pair{2, ChangeKind::unmeasured}, std::pair{3, ChangeKind::split}}) {
    const auto joined = chain(discs), parted = apart(discs);
    add_mark(*parted, 1.3, 1.7, -8.0, 8.0);
    CHECK(!only(compared(*joined, *parted), kind).area_change);
  }
}

TEST_CASE("changes: what a dark line that goes on beyond a spot bites out of it is no change",
          "[comparison]") {
  const DrawnCore whole{.grain = 0.0, .spots = {{0, 0, 6}}};
  const auto before = drawn_core(whole), bitten = drawn_core(whole);
  bite(*bitten);
  for (const auto& photo : {&before, &bitten}) (*photo)->map.spots.front().u_area_px = 5.0;
  CHECK(compared(*before, *bitten).count(ChangeKind::shrunk) == 1);
  CHECK(compared(*bitten, *before).count(ChangeKind::grown) == 1);
  add_mark(*bitten, 3.2, 8.0, -0.5, 0.5);
  CHECK(compared(*before, *bitten).count(ChangeKind::unmeasured) == 1);
  CHECK(compared(*bitten, *before).count(ChangeKind::unmeasured) == 1);
}

TEST_CASE("changes: a spot that lies on another group's spot too has not grown for certain", "[comparison]") {
  // The left spot is whole in both photos but for a bit, and the outline of the right one takes in much of
  // it.
  const DrawnCore before{.spots = {{-1.5, 0, 3}, {1.6, 0, 2}}};
  const DrawnCore after{.spots = {{-2.4, 0, 1.2}, {0.3, 0, 4.2}}};
  CHECK(compared(before, after).count(ChangeKind::grown) == 0);
  CHECK(compared(before, {.spots = {{-1.5, 0, 3}, {1.6, 0, 3}}}).count(ChangeKind::grown) == 1);
}

TEST_CASE("changes: a mark that hides some of a merged spot takes nothing from what merged", "[comparison]") {
  const auto apart = drawn_core({.grain = 0.0, .spots = {{-1.3, 0, 2}, {1.3, 0, 2}}}),
             joined = drawn_core({.grain = 0.0, .spots = {{0, 0, 4.6}}});
  add_mark(*joined, -2.3, -1.0, 0.2, 1.0);
  CHECK(!only(compared(*apart, *joined), ChangeKind::merged).area_change);
  CHECK(!only(compared(*joined, *apart), ChangeKind::split).area_change);
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

TEST_CASE("changes: the change of the area fraction has the width that a growth rate has for the same photos",
          "[comparison]") {
  const std::vector<DrawnSpot> spots{{0, 0, 3}};
  const DrawnCore before{.spots = spots}, after = turned(spots);
  const auto first = drawn_core(before), second = drawn_core(after);
  for (const auto& [photo, u] : {std::pair{first.get(), 0.2}, std::pair{second.get(), 0.3}})
    photo->figures.budgets.push_back(
        {"area_fraction_pct",
         "%",
         {{"boundary, all spots", u, "px2", 1.0, u, ""}, {"exclusion", 0.5, "relative", 1.0, 0.5, ""}},
         0.0});
  const FaceChanges changes =
      compare_faces(first->to_compare(), second->to_compare(), true_registration(before, after));
  // By hand: three tenths of the boundary; both fractions are of one area.
  CHECK(changes.fraction_change.u.number() == Approx(0.3 * std::hypot(0.2, 0.3)).epsilon(1e-9));
  CHECK(changes.fraction_change.u.number() ==
        Approx(std::hypot(u_between_photos_pct(first->figures, MeasuredArea::common),
                          u_between_photos_pct(second->figures, MeasuredArea::common)))
            .epsilon(1e-12));
}
