#include "calibration/rim_curve.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>
#include <random>

using Catch::Matchers::WithinAbs;
using namespace corefleck;

namespace {

constexpr int kPoints = 720;

/// A rim of strength 1, lighter outwards, but for the half where `sign` and `strength` are as told.
template <class Sign>
std::vector<RimPoint> half_rim(double strength, Sign sign) {
  std::vector<RimPoint> points;
  for (int i = 0; i < kPoints; ++i) {
    const bool told = i < kPoints / 2;
    points.push_back(
        {2.0 * std::numbers::pi * i / kPoints, 500.0, told ? strength : 1.0, told ? sign(i) : 1});
  }
  return points;
}

}  // namespace

TEST_CASE("rim: points that change their sign as chance does and are weak besides are left out",
          "[calibration]") {
  std::mt19937 random(5);  // NOLINT(cert-msc51-cpp): the same points each time
  const auto chance = [&](int) { return random() % 2 == 0 ? 1 : -1; };
  const auto kept = without_chance(half_rim(0.5, chance));
  CHECK(kept.size() > kPoints / 2 - 20);
  CHECK(kept.size() < kPoints / 2 + 60);
  // As strong as the rest, they may be a rim on print.
  CHECK(without_chance(half_rim(1.0, chance)).size() == kPoints);
}

TEST_CASE("rim: a weak arc is kept if it keeps its sign, and so is one on a patterned bench",
          "[calibration]") {
  CHECK(without_chance(half_rim(0.3, [](int) { return -1; })).size() == kPoints);
  CHECK(without_chance(half_rim(0.3, [](int i) { return i / 6 % 2 == 0 ? 1 : -1; })).size() == kPoints);
}

TEST_CASE("rim: the circle through an arc, about a centre beside its own", "[calibration]") {
  std::vector<RimPoint> arc;
  for (int i = 0; i < 100; ++i) {
    const double angle = 0.02 * i;
    arc.push_back({angle, 500.0 + 3.0 * std::cos(angle) - 2.0 * std::sin(angle), 1.0, 1});
  }
  const RimCurve circle = circle_through(arc);
  CHECK_THAT(circle.c[0], WithinAbs(500.0, 1e-6));
  CHECK_THAT(circle.c[1], WithinAbs(3.0, 1e-6));
  CHECK_THAT(circle.c[2], WithinAbs(-2.0, 1e-6));
  CHECK(circle.c[3] == 0.0);
}
