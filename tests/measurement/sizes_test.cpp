#include "measurement/size_classes.hpp"

#include "corefleck/measurement.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>
#include <vector>

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace corefleck;

namespace {

std::vector<SpotFigures> spots_of(const std::vector<double>& ecd_mm) {
  std::vector<SpotFigures> spots;
  for (const double ecd : ecd_mm) {
    SpotFigures figures{};
    figures.ecd = Millimetres{ecd};
    figures.area = {SquareMillimetres{std::numbers::pi / 4.0 * ecd * ecd}, SquareMillimetres{0.0}};
    spots.push_back(figures);
  }
  return spots;
}

}  // namespace

// ISO 9276-1: geometric progressions. By hand: limits 0.5, 0.7071, 1, 1.4142, 2, 2.8284 mm.
TEST_CASE("size classes: limits go up by the square root of two, with one at 1 mm", "[measurement]") {
  const auto classes = size_classes(spots_of({0.55, 0.71, 1.1, 1.9, 2.5, 0.6}), SizeClasses::sqrt2);
  REQUIRE(classes.size() == 5);
  const double limits[] = {0.5, 0.70710678, 1.0, 1.41421356, 2.0, 2.82842712};
  const int counts[] = {2, 1, 1, 1, 1};
  for (std::size_t i = 0; i < 5; ++i) {
    CHECK_THAT(classes[i].ecd_from.number(), WithinRel(limits[i], 1e-8));
    CHECK_THAT(classes[i].ecd_to.number(), WithinRel(limits[i + 1], 1e-8));
    CHECK(classes[i].count == counts[i]);
  }
}

// ISO 3, preferred numbers, rounded to three digits: R10 1.00 1.25 1.60 2.00 2.50; R5 1.00 1.60 2.50;
// R20 1.00 1.12 1.25. The exact terms 10^(k/n) differ from those by up to 1.3 %.
TEST_CASE("size classes: the R series", "[measurement]") {
  const auto check = [](SizeClasses series, double ratio, double rounded) {
    const auto classes = size_classes(spots_of({1.05, 2.45}), series);
    CHECK_THAT(classes.front().ecd_from.number(), WithinRel(1.0, 1e-9));
    CHECK_THAT(classes.front().ecd_to.number(), WithinRel(ratio, 1e-6));
    CHECK_THAT(classes.front().ecd_to.number(), WithinRel(rounded, 0.013));
    CHECK(classes.back().ecd_from.number() <= 2.45);
    CHECK(classes.back().ecd_to.number() > 2.45);
  };
  check(SizeClasses::r5, 1.584893, 1.60);
  check(SizeClasses::r10, 1.258925, 1.25);
  check(SizeClasses::r20, 1.122018, 1.12);
}

TEST_CASE("size classes: a spot on a limit belongs to the class above it", "[measurement]") {
  const auto classes = size_classes(spots_of({1.0, 2.0}), SizeClasses::sqrt2);
  REQUIRE(classes.size() == 3);
  CHECK_THAT(classes.front().ecd_from.number(), WithinRel(1.0, 1e-12));
  CHECK_THAT(classes.back().ecd_from.number(), WithinRel(2.0, 1e-12));
}

TEST_CASE("size classes: empty classes between stand in the list, and counts and areas sum to all",
          "[measurement]") {
  const auto spots = spots_of({0.6, 0.62, 3.0, 5.0});
  const auto classes = size_classes(spots, SizeClasses::sqrt2);
  int count = 0, empty = 0;
  double area = 0.0, count_pct = 0.0, area_pct = 0.0, all = 0.0;
  for (const SpotFigures& spot : spots) all += spot.area.value.number();
  for (std::size_t i = 0; i < classes.size(); ++i) {
    count += classes[i].count;
    empty += classes[i].count == 0 ? 1 : 0;
    area += classes[i].area.number();
    count_pct += classes[i].count_pct;
    area_pct += classes[i].area_pct;
    if (i > 0) CHECK(classes[i].ecd_from == classes[i - 1].ecd_to);
  }
  CHECK(empty > 0);
  CHECK(count == 4);
  CHECK_THAT(area, WithinRel(all, 1e-12));
  CHECK_THAT(count_pct, WithinAbs(100.0, 1e-9));
  CHECK_THAT(area_pct, WithinAbs(100.0, 1e-9));
}

TEST_CASE("size classes: none without spots", "[measurement]") {
  CHECK(size_classes({}, SizeClasses::r10).empty());
}
