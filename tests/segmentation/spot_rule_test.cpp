#include "segmentation/spot_rule.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using Catch::Matchers::WithinRel;
using namespace corefleck;

namespace {

constexpr DetectionRule kRule{0.06F, 20.0, 0.01, 0.02, 200.0};

Evidence clear_spot() {
  Evidence spot{};
  spot.height = 0.5;
  spot.plateau = 0.5;
  spot.area_px = 60.0;
  spot.spread_inside = 0.02;
  spot.spread_ground = 0.02;
  spot.ground_px = 200;
  return spot;
}

}  // namespace

TEST_CASE("spot rule: a clear spot is one; too small, or without matrix around, it is none",
          "[segmentation]") {
  CHECK(is_spot(clear_spot(), kRule));
  Evidence small = clear_spot();
  small.area_px = 19.0;
  CHECK_FALSE(is_spot(small, kRule));
  Evidence nowhere = clear_spot();
  nowhere.ground_px = 5;
  CHECK_FALSE(is_spot(nowhere, kRule));
}

TEST_CASE("spot rule: faint against the eye, the mottle or its own surroundings it is none",
          "[segmentation]") {
  Evidence faint = clear_spot();
  faint.height = 0.15;
  CHECK_FALSE(is_spot(faint, kRule));
  DetectionRule mottled = kRule;
  mottled.mottle_rel = 0.2;
  CHECK_FALSE(is_spot(clear_spot(), mottled));
  Evidence restless = clear_spot();
  restless.spread_ground = 0.2;
  CHECK_FALSE(is_spot(restless, kRule));
}

TEST_CASE("spot rule: bare matrix beside a dark grain is none, a spot on a stain is one", "[segmentation]") {
  Evidence bare = clear_spot();
  bare.plateau = 0.05;
  CHECK_FALSE(is_spot(bare, kRule));
  Evidence on_stain = clear_spot();
  on_stain.plateau = 0.3;
  CHECK(is_spot(on_stain, kRule));
}

TEST_CASE("spot rule: a slow flank asks for more height, an uneven plateau is mottle", "[segmentation]") {
  Evidence slow = clear_spot();
  slow.height = 0.25;
  CHECK(is_spot(slow, kRule));
  slow.soft_mm = 2.0;
  CHECK_FALSE(is_spot(slow, kRule));
  Evidence uneven = clear_spot();
  uneven.height = 0.25;
  uneven.spread_inside = 0.1;
  CHECK_FALSE(is_spot(uneven, kRule));
}

TEST_CASE("spot rule: far above what is asked a spot may have two shades, and no mottle has",
          "[segmentation]") {
  Evidence shades = clear_spot();
  shades.spread_inside = 0.15;  // a third of its height, which is twice and a half of what is asked
  CHECK(is_spot(shades, kRule));
  shades.height = 0.3;
  shades.spread_inside = 0.1;
  CHECK_FALSE(is_spot(shades, kRule));
}

TEST_CASE("spot rule: nearly a spot is what is broad and crisp and lacks little", "[segmentation]") {
  Evidence close = clear_spot();
  close.area_px = 300.0;
  close.spread_ground = 0.14;  // asks for 0.56
  CHECK_FALSE(is_spot(close, kRule));
  CHECK(is_nearly_spot(close, kRule));
  Evidence small = close, soft = close, low = close;
  small.area_px = 100.0;
  soft.soft_mm = 0.3;
  low.height = 0.4;
  CHECK_FALSE(is_nearly_spot(small, kRule));
  CHECK_FALSE(is_nearly_spot(soft, kRule));
  CHECK_FALSE(is_nearly_spot(low, kRule));
}

TEST_CASE("spot rule: a colour of its own makes up for some lightness", "[segmentation]") {
  DetectionRule mottled = kRule;
  mottled.mottle_rel = 0.06;
  Evidence spot = clear_spot();
  spot.height = 0.2;
  CHECK_FALSE(is_spot(spot, mottled));
  spot.own_colour = true;
  CHECK(is_spot(spot, mottled));
}
