#include "segmentation/mottle_population.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using Catch::Matchers::WithinRel;
using namespace corefleck;

namespace {

constexpr double kArea = 30.0;
constexpr double kMean = 0.05;

/// The i-th of n quantiles of an exponential.
double exponential(int i, int n) { return -kMean * std::log(1.0 - (i + 0.5) / n); }

MottlePopulation exponential_population(int n, double weight = 1.0) {
  MottlePopulation mottle;
  for (int i = 0; i < n; ++i) mottle.add({{kArea, exponential(i, n)}, weight});
  return mottle;
}

double limit(const MottlePopulation& mottle, double area_px, double height = 1.0) {
  return mottle.limits({{area_px, height}}).front();
}

}  // namespace

TEST_CASE("mottle's population: too few tell nothing; the limit lies above them and rises with their number",
          "[segmentation]") {
  MottlePopulation few;
  for (int i = 1; i <= 10; ++i) few.add({{kArea, 0.01 * i}, 1.0});
  CHECK(limit(few, kArea) == 0.0);
  const double many = limit(exponential_population(100), kArea);
  CHECK(many > kMean * std::log(100.0));
  CHECK(limit(exponential_population(100, 50.0), kArea) > many);
}

TEST_CASE("mottle's population: a region that stands for several counts as several", "[segmentation]") {
  MottlePopulation singly;
  for (int i = 0; i < 100; ++i)
    for (int k = 0; k < 4; ++k) singly.add({{kArea, exponential(i, 100)}, 1.0});
  // As many regions; but four of one height tell no more of the fall than one does.
  CHECK(limit(exponential_population(100, 4.0), kArea) >= limit(singly, kArea));
  CHECK_THAT(limit(exponential_population(100, 4.0), kArea), WithinRel(limit(singly, kArea), 0.15));
}

TEST_CASE("mottle's population: a large region is not held against small ones", "[segmentation]") {
  MottlePopulation mottle;
  for (int i = 1; i <= 60; ++i) mottle.add({{kArea, 0.01 * i}, 1.0});
  CHECK(limit(mottle, kArea) > 0.0);
  CHECK(limit(mottle, 10.0 * kArea) == 0.0);
}

TEST_CASE("mottle's population: stains say nothing of grains where there are enough grains",
          "[segmentation]") {
  MottlePopulation grains, few_grains;
  for (int i = 1; i <= 30; ++i) grains.add({{kArea, 0.002 * i}, 1.0});
  for (int i = 1; i <= 10; ++i) few_grains.add({{kArea, 0.006 * i}, 1.0});
  const double alone = limit(grains, kArea);
  for (int i = 1; i <= 30; ++i) {
    grains.add({{3000.0, 0.01 * i}, 1.0});
    few_grains.add({{3000.0, 0.01 * i}, 1.0});
  }
  CHECK_THAT(limit(grains, kArea), WithinRel(alone, 1e-12));
  CHECK(limit(grains, 1000.0) > 3.0 * alone);
  CHECK(limit(few_grains, kArea) > alone);
}

TEST_CASE("mottle's population: where its heights are seen to end, spots may begin sooner, if there are some",
          "[segmentation]") {
  const MottlePopulation endless = exponential_population(400);
  MottlePopulation ending;
  for (int i = 0; i < 400; ++i) ending.add({{kArea, std::min(exponential(i, 400), 0.12 + 0.00003 * i)}, 1.0});
  const std::vector<LightRegion> some(6, {kArea, 1.0});
  const double limit_there = ending.limits(some).front();
  CHECK(limit_there > 0.132);
  CHECK(limit_there < 0.8 * endless.limits(some).front());
  CHECK(limit(ending, kArea) > 1.2 * limit_there);
}

TEST_CASE("mottle's population: among many spots of one size a small share may be mottle, of few none",
          "[segmentation]") {
  const MottlePopulation mottle = exponential_population(200);
  std::vector<LightRegion> many(200, {kArea, 0.6}), larger(200, {100.0 * kArea, 0.6});
  many.push_back({kArea, 0.3});
  larger.push_back({kArea, 0.3});
  const double lone = limit(mottle, kArea, 0.3);
  CHECK(mottle.limits(many).back() < 0.9 * lone);
  CHECK_THAT(mottle.limits(larger).back(), WithinRel(lone, 1e-12));
}
