#include "segmentation/spot_rule.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using Catch::Matchers::WithinRel;
using namespace corefleck;

namespace {

constexpr DetectionRule kRule{0.06F, 20.0, 0.01, 0.02};

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
  uneven.spread_inside = 0.2;
  CHECK_FALSE(is_spot(uneven, kRule));
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

TEST_CASE("mottle's population: too few tell nothing; the limit lies above them and rises with their number",
          "[segmentation]") {
  MottlePopulation few, many, crowd;
  for (int i = 1; i <= 10; ++i) few.add(30.0, 0.01 * i, 1.0);
  CHECK(few.limit(30.0) == 0.0);
  // Quantiles of an exponential of mean 0.05.
  for (int i = 0; i < 100; ++i) {
    const double height = -0.05 * std::log(1.0 - (i + 0.5) / 100.0);
    many.add(30.0, height, 1.0);
    crowd.add(30.0, height, 50.0);
  }
  CHECK(many.limit(30.0) > 0.05 * std::log(100.0));
  CHECK(crowd.limit(30.0) > many.limit(30.0));
}

TEST_CASE("mottle's population: a region that stands for several counts as several", "[segmentation]") {
  MottlePopulation singly, weighted;
  for (int i = 1; i <= 30; ++i) {
    for (int k = 0; k < 4; ++k) singly.add(30.0, 0.01 * i, 1.0);
    weighted.add(30.0, 0.01 * i, 4.0);
  }
  CHECK_THAT(weighted.limit(30.0), WithinRel(singly.limit(30.0), 1e-12));
}

TEST_CASE("mottle's population: a large region is not held against small ones", "[segmentation]") {
  MottlePopulation mottle;
  for (int i = 1; i <= 60; ++i) mottle.add(30.0, 0.01 * i, 1.0);
  CHECK(mottle.limit(30.0) > 0.0);
  CHECK(mottle.limit(300.0) == 0.0);
}

TEST_CASE("mottle's population: stains say nothing of grains where there are enough grains",
          "[segmentation]") {
  MottlePopulation grains, few_grains;
  for (int i = 1; i <= 30; ++i) grains.add(30.0, 0.002 * i, 1.0);
  for (int i = 1; i <= 10; ++i) few_grains.add(30.0, 0.006 * i, 1.0);
  const double limit = grains.limit(30.0);
  for (int i = 1; i <= 30; ++i) {
    grains.add(3000.0, 0.01 * i, 1.0);
    few_grains.add(3000.0, 0.01 * i, 1.0);
  }
  CHECK_THAT(grains.limit(30.0), WithinRel(limit, 1e-12));
  CHECK(grains.limit(1000.0) > 3.0 * limit);
  CHECK(few_grains.limit(30.0) > limit);
}
