#include "corefleck/shape.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace corefleck {
namespace {

// Twice the signed area of the triangle: positive when a, b, c turn from x towards y.
double turn(const cv::Point2d& a, const cv::Point2d& b, const cv::Point2d& c) { return (b - a).cross(c - a); }

double distance(const cv::Point2d& a, const cv::Point2d& b) { return std::hypot(b.x - a.x, b.y - a.y); }

// Appends points to a chain that turns from x towards y only, never below `base` points.
void append_convex(Polygon& chain, const cv::Point2d& point, std::size_t base) {
  while (chain.size() >= base + 2 && turn(chain[chain.size() - 2], chain.back(), point) <= 0.0)
    chain.pop_back();
  chain.push_back(point);
}

}  // namespace

double polygon_area(const Polygon& polygon) {
  double twice_area = 0.0;
  // A fan about the first corner: no digits are lost to a polygon's distance from the origin.
  for (std::size_t i = 2; i < polygon.size(); ++i) twice_area += turn(polygon[0], polygon[i - 1], polygon[i]);
  return twice_area / 2.0;
}

double polygon_perimeter(const Polygon& polygon) {
  double length = 0.0;
  for (std::size_t i = 0; i < polygon.size(); ++i)
    length += distance(polygon[i], polygon[(i + 1) % polygon.size()]);
  return length;
}

cv::Point2d polygon_centroid(const Polygon& polygon) {
  assert(!polygon.empty());
  cv::Point2d moment{0.0, 0.0}, corner_sum{0.0, 0.0};
  double twice_area = 0.0;
  const cv::Point2d& origin = polygon[0];
  for (std::size_t i = 2; i < polygon.size(); ++i) {
    const double weight = turn(origin, polygon[i - 1], polygon[i]);
    moment += weight * ((polygon[i - 1] - origin) + (polygon[i] - origin));
    twice_area += weight;
  }
  if (twice_area != 0.0) return origin + moment / (3.0 * twice_area);
  for (const cv::Point2d& corner : polygon) corner_sum += corner - origin;
  return origin + corner_sum / static_cast<double>(polygon.size());
}

Polygon convex_hull(std::vector<cv::Point2d> points) {
  // Andrew 1979, Inf. Process. Lett. 9(5) 216-219: sort, then walk there and back.
  const auto before = [](const cv::Point2d& a, const cv::Point2d& b) {
    return a.x < b.x || (a.x == b.x && a.y < b.y);
  };
  std::sort(points.begin(), points.end(), before);
  points.erase(std::unique(points.begin(), points.end()), points.end());
  if (points.size() < 3) return points;
  Polygon hull;
  for (const cv::Point2d& point : points) append_convex(hull, point, 0);
  const std::size_t there = hull.size() - 1;
  for (auto point = points.rbegin() + 1; point != points.rend(); ++point) append_convex(hull, *point, there);
  hull.pop_back();
  return hull;
}

FeretDiameters feret_diameters(const Polygon& hull) {
  if (hull.size() < 2) return {0.0, 0.0};
  if (hull.size() == 2) return {distance(hull[0], hull[1]), 0.0};
  // Rotating calipers (Shamos 1978): the corner farthest from a side moves round the hull as the side does.
  // The smallest width stands on a side; the largest joins two corners that a pair of parallel lines can
  // touch.
  const std::size_t n = hull.size();
  double largest = 0.0, smallest = HUGE_VAL;
  std::size_t opposite = 1;
  for (std::size_t i = 0; i < n; ++i) {
    const cv::Point2d &from = hull[i], &to = hull[(i + 1) % n];
    while (turn(from, to, hull[(opposite + 1) % n]) > turn(from, to, hull[opposite]))
      opposite = (opposite + 1) % n;
    smallest = std::min(smallest, turn(from, to, hull[opposite]) / distance(from, to));
    // With a parallel side opposite, both its corners count; looking one corner ahead costs nothing
    // otherwise.
    for (const cv::Point2d& far : {hull[opposite], hull[(opposite + 1) % n]})
      largest = std::max({largest, distance(from, far), distance(to, far)});
  }
  return {largest, smallest};
}

}  // namespace corefleck
