#include "corefleck/shape.hpp"

#include <cassert>
#include <cstdint>
#include <numbers>

namespace corefleck {

double crofton_perimeter(const cv::Mat& mask) {
  assert(mask.type() == CV_8UC1);
  // A run starts at a nonzero pixel whose predecessor along the line is zero or beyond the mask.
  std::int64_t straight = 0, diagonal = 0;
  const std::vector<std::uint8_t> nothing(static_cast<std::size_t>(mask.cols), 0);
  for (int y = 0; y < mask.rows; ++y) {
    const std::uint8_t* row = mask.ptr<std::uint8_t>(y);
    const std::uint8_t* above = y > 0 ? mask.ptr<std::uint8_t>(y - 1) : nothing.data();
    for (int x = 0; x < mask.cols; ++x) {
      if (row[x] == 0) continue;
      const bool first = x == 0, last = x + 1 == mask.cols;
      straight += (first || row[x - 1] == 0) + (above[x] == 0);
      diagonal += (first || above[x - 1] == 0) + (last || above[x + 1] == 0);
    }
  }
  return std::numbers::pi / 4.0 *
         (static_cast<double>(straight) + static_cast<double>(diagonal) / std::numbers::sqrt2);
}

std::vector<cv::Point2d> corner_points(const cv::Mat& mask) {
  assert(mask.type() == CV_8UC1);
  std::vector<cv::Point2d> corners;
  for (int y = 0; y < mask.rows; ++y) {
    const std::uint8_t* row = mask.ptr<std::uint8_t>(y);
    int first = 0, last = mask.cols - 1;
    while (first <= last && row[first] == 0) ++first;
    if (first > last) continue;
    while (row[last] == 0) --last;
    for (const double x : {first - 0.5, last + 0.5}) {
      corners.emplace_back(x, y - 0.5);
      corners.emplace_back(x, y + 0.5);
    }
  }
  return corners;
}

double corner_solidity(const cv::Mat& mask) {
  const double hull_area = polygon_area(convex_hull(corner_points(mask)));
  assert(hull_area > 0.0);
  return cv::countNonZero(mask) / hull_area;
}

}  // namespace corefleck
