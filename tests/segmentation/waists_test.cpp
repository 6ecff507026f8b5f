#include "segmentation/waists.hpp"

#include "drawn_photo.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>

using Catch::Matchers::WithinRel;
using namespace corefleck;
using namespace corefleck::testing;

namespace {

constexpr double kPi = std::numbers::pi;

/// Outline of two discs of radius 20 whose middles lie this far apart.
Contour joined_discs(double apart) {
  const double open = std::acos(0.5 * apart / 20.0);  // half the arc of each that the other hides
  Contour outline;
  for (const double side : {1.0, -1.0})
    for (int k = 0; k <= 200; ++k) {
      const double angle = open + (2.0 * kPi - 2.0 * open) * k / 200.0;
      outline.emplace_back(side * (20.0 * std::cos(angle) - 0.5 * apart), side * 20.0 * std::sin(angle));
    }
  return outline;
}

/// r = size (1 + depth cos(lobes angle))
Contour lobed(double size, double depth, int lobes) {
  Contour outline;
  for (int k = 0; k < 360; ++k) {
    const double angle = kPi * k / 180.0, r = size * (1.0 + depth * std::cos(lobes * angle));
    outline.emplace_back(r * std::cos(angle), 0.7 * r * std::sin(angle));
  }
  return outline;
}

}  // namespace

// By hand: chord 2 sqrt(r^2 - (apart / 2)^2); the lesser part is a disc less its segment beyond the chord.
TEST_CASE("waists: between two joined discs runs the chord that both share", "[segmentation]") {
  for (const double apart : {20.0, 25.0, 30.0}) {
    const auto waist = waist_of(joined_discs(apart));
    INFO("apart " << apart);
    REQUIRE(waist);
    const double half = 0.5 * apart, chord = 2.0 * std::sqrt(400.0 - half * half);
    const double part = kPi * 400.0 - (400.0 * std::acos(half / 20.0) - 0.5 * half * chord);
    CHECK_THAT(cv::norm(waist->from - waist->to), WithinRel(chord, 0.01));
    CHECK_THAT(waist->lesser_px, WithinRel(part, 0.01));
    CHECK_THAT(waist->breadth, WithinRel(chord / (2.0 * std::sqrt(part / kPi)), 0.01));
  }
}

TEST_CASE("waists: an outline that bulges, or is dented on one side only, has none", "[segmentation]") {
  CHECK_FALSE(waist_of(lobed(20.0, 0.0, 1)));
  CHECK_FALSE(waist_of(lobed(20.0, 0.4, 1)));
  CHECK_FALSE(waist_of({{0.0, 0.0}, {20.0, 0.0}, {20.0, 20.0}, {10.0, 12.0}, {0.0, 20.0}}));
  CHECK_FALSE(waist_of({{0.0, 0.0}, {20.0, 0.0}}));
}

// By hand: pi r^2 of either disc. One outline round both is off by more than half of it.
TEST_CASE(
    "waists: of discs joined by a neck nearly as broad as themselves each has its area within its interval",
    "[segmentation]") {
  for (const double apart : {8.5, 9.0, 9.5}) {
    DrawnFace drawn;
    drawn.blur_px = 0.5;
    drawn.spots = {{300.0 - 0.5 * apart, 300.0, 6.0, 2.0 * kMatrix_Y},
                   {300.0 + 0.5 * apart, 300.0, 6.0, 2.0 * kMatrix_Y},
                   {300.0, 400.0, 6.0, 2.0 * kMatrix_Y}};
    const auto map = find_spots(calibrated_face(drawn), {});
    REQUIRE(map.has_value());
    INFO("apart " << apart << ", spots " << map->spots.size());
    for (const Region& spot : map->spots)
      CHECK(std::abs(spot.area_px - kPi * 36.0) < 4.0 * spot.u_area_px);  // twice the 95 % interval
    for (const Region& spot : map->spots)
      if (spot.box.y > 350) CHECK(spot.u_area_px < 0.1 * spot.area_px);  // the disc that stands alone
  }
}

// Both pairs have the same outline, as broad at the waist as three quarters of a disc.
TEST_CASE("waists: a plateau that dips there parts two spots, one that runs on leaves them joined, in doubt",
          "[segmentation]") {
  DrawnFace drawn;
  for (const double row : {200.0, 400.0})
    for (const double column : {289.0, 311.0}) drawn.spots.push_back({column, row, 16.0, 2.0 * kMatrix_Y});
  drawn.necks = {{300.0, 400.0, 2.0, 12.0, 1.7 * kMatrix_Y}};
  const auto map = find_spots(calibrated_face(drawn), {});
  REQUIRE(map.has_value());
  REQUIRE(map->spots.size() == 3);
  CHECK(map->spots[0].box.y < 300);
  CHECK(map->spots[0].u_area_px > 0.1 * map->spots[0].area_px);
  for (std::size_t i : {std::size_t{1}, std::size_t{2}}) {
    CHECK(map->spots[i].box.y > 300);
    CHECK_THAT(map->spots[i].area_px, WithinRel(map->spots[3 - i].area_px, 0.05));
  }
}
