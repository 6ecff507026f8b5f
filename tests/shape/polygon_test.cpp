#include "corefleck/shape.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace corefleck;

namespace {

Polygon ellipse(double a, double b, int corners) {
  Polygon polygon;
  for (int i = 0; i < corners; ++i) {
    const double t = 2.0 * std::numbers::pi * i / corners;
    polygon.emplace_back(a * std::cos(t), b * std::sin(t));
  }
  return polygon;
}

Polygon moved(Polygon polygon, double turn_deg, const cv::Point2d& shift) {
  const double c = std::cos(turn_deg * std::numbers::pi / 180.0),
               s = std::sin(turn_deg * std::numbers::pi / 180.0);
  for (cv::Point2d& p : polygon) p = cv::Point2d{c * p.x - s * p.y, s * p.x + c * p.y} + shift;
  return polygon;
}

// The definition, without calipers: the largest distance of two corners, the smallest width across a side.
FeretDiameters feret_by_definition(const Polygon& hull) {
  double largest = 0.0, smallest = HUGE_VAL;
  for (std::size_t i = 0; i < hull.size(); ++i) {
    const cv::Point2d side = hull[(i + 1) % hull.size()] - hull[i];
    double width = 0.0;
    for (const cv::Point2d& corner : hull) {
      largest = std::max(largest, cv::norm(corner - hull[i]));
      width = std::max(width, std::abs(side.cross(corner - hull[i])) / cv::norm(side));
    }
    smallest = std::min(smallest, width);
  }
  return {largest, smallest};
}

}  // namespace

TEST_CASE("polygon: a 4 x 3 rectangle by hand, in both orders of its corners", "[shape]") {
  const Polygon clockwise_on_screen{{1, 1}, {5, 1}, {5, 4}, {1, 4}};
  const Polygon backwards(clockwise_on_screen.rbegin(), clockwise_on_screen.rend());
  CHECK(polygon_area(clockwise_on_screen) == 12.0);
  CHECK(polygon_area(backwards) == -12.0);
  for (const Polygon& rectangle : {clockwise_on_screen, backwards}) {
    CHECK(polygon_perimeter(rectangle) == 14.0);
    CHECK_THAT(polygon_centroid(rectangle).x, WithinAbs(3.0, 1e-14));
    CHECK_THAT(polygon_centroid(rectangle).y, WithinAbs(2.5, 1e-14));
  }
  const Polygon hull = convex_hull(backwards);
  CHECK(hull.size() == 4);
  CHECK(polygon_area(hull) == 12.0);
  CHECK(feret_diameters(hull).max == 5.0);
  CHECK(feret_diameters(hull).min == 3.0);
}

TEST_CASE("polygon: the centroid weighs area, not corners", "[shape]") {
  // By hand: an L of 2 x 1 on 1 x 1, areas 2 and 1 with centres (1, 1.5) and (0.5, 0.5).
  const Polygon l{{0, 0}, {1, 0}, {1, 1}, {2, 1}, {2, 2}, {0, 2}};
  CHECK_THAT(polygon_centroid(l).x, WithinAbs(2.5 / 3.0, 1e-14));
  CHECK_THAT(polygon_centroid(l).y, WithinAbs(3.5 / 3.0, 1e-14));
}

TEST_CASE("polygon: nothing, a point and a line have no area and do not fail", "[shape]") {
  CHECK(polygon_area({}) == 0.0);
  CHECK(polygon_perimeter({}) == 0.0);
  CHECK(convex_hull({}).empty());
  CHECK(convex_hull({{2, 3}, {2, 3}}).size() == 1);
  const Polygon line = convex_hull({{0, 0}, {3, 4}, {1.5, 2}});
  CHECK(line.size() == 2);
  CHECK(polygon_area(line) == 0.0);
  CHECK(polygon_perimeter(line) == 10.0);
  CHECK(feret_diameters(line).max == 5.0);
  CHECK(feret_diameters(line).min == 0.0);
  CHECK(feret_diameters({{1, 1}}).max == 0.0);
  CHECK(polygon_centroid(line) == cv::Point2d(1.5, 2.0));
}

// Perimeter of the ellipse: 4 a E(k), k^2 = 1 - b^2/a^2, complete elliptic integral of the second kind.
TEST_CASE("polygon: the perimeter of an ellipse is that of the elliptic integral", "[shape]") {
  for (const double b : {1.0, 5.0, 9.9, 10.0}) {
    const Polygon polygon = ellipse(10.0, b, 100'000);
    const double expected = 40.0 * std::comp_ellint_2(std::sqrt(1.0 - b * b / 100.0));
    CHECK_THAT(polygon_perimeter(polygon), WithinRel(expected, 1e-8));
    CHECK_THAT(polygon_area(polygon), WithinRel(10.0 * b * std::numbers::pi, 1e-8));
    CHECK_THAT(feret_diameters(convex_hull(polygon)).max, WithinRel(20.0, 1e-8));
    CHECK_THAT(feret_diameters(convex_hull(polygon)).min, WithinRel(2.0 * b, 1e-8));
  }
}

TEST_CASE("polygon: nothing changes under turning and shifting", "[shape]") {
  const Polygon original = ellipse(40.0, 17.0, 101);
  const FeretDiameters feret = feret_diameters(convex_hull(original));
  for (int turn_deg = 0; turn_deg < 360; turn_deg += 7) {
    const Polygon other = moved(original, turn_deg, {1234.5, -987.25});
    CHECK_THAT(polygon_area(other), WithinRel(polygon_area(original), 1e-12));
    CHECK_THAT(polygon_perimeter(other), WithinRel(polygon_perimeter(original), 1e-12));
    CHECK_THAT(polygon_centroid(other).x, WithinAbs(1234.5, 1e-9));
    CHECK_THAT(polygon_centroid(other).y, WithinAbs(-987.25, 1e-9));
    const FeretDiameters other_feret = feret_diameters(convex_hull(other));
    CHECK_THAT(other_feret.max, WithinRel(feret.max, 1e-12));
    CHECK_THAT(other_feret.min, WithinRel(feret.min, 1e-12));
  }
}

TEST_CASE("polygon: calipers give what the definition gives, for hulls of random and of grid points",
          "[shape]") {
  std::mt19937_64 random(11);
  std::uniform_real_distribution<double> anywhere(0.0, 10.0);
  std::uniform_int_distribution<int> grid(0, 6);  // many parallel sides
  for (int trial = 0; trial < 4000; ++trial) {
    std::vector<cv::Point2d> points;
    for (int i = 0; i < 3 + trial % 20; ++i) {
      if (trial % 2 == 0)
        points.emplace_back(anywhere(random), anywhere(random));
      else
        points.emplace_back(grid(random), grid(random));
    }
    const Polygon hull = convex_hull(points);
    if (hull.size() < 3) continue;
    const FeretDiameters calipers = feret_diameters(hull), definition = feret_by_definition(hull);
    CHECK_THAT(calipers.max, WithinRel(definition.max, 1e-12));
    CHECK_THAT(calipers.min, WithinRel(definition.min, 1e-12));
    CHECK(polygon_area(hull) > 0.0);
  }
}
