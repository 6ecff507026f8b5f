#include "pixel_polygon.hpp"

#include "corefleck/edits.hpp"

#include <algorithm>
#include <cmath>

namespace corefleck {

std::vector<PixelSpan> pixel_spans(const std::vector<cv::Point2d>& outline_mm, const FaceGrid& grid) {
  // Whole numbers held in doubles: products stay below 2^53 on any grid that fits into memory.
  constexpr double kParts = kPartsOfPixel;
  std::vector<cv::Point2d> corners;
  double top = 1e9, bottom = -1e9;
  const double pitch = grid.pitch.number();
  for (const cv::Point2d& p : outline_mm) {
    corners.emplace_back(std::floor((p.x / pitch + grid.centre_px) * kParts + 0.5),
                         std::floor((grid.centre_px - p.y / pitch) * kParts + 0.5));
    top = std::min(top, corners.back().y);
    bottom = std::max(bottom, corners.back().y);
  }
  std::vector<PixelSpan> spans;
  const int first_row = std::max(0, static_cast<int>(std::ceil(top / kParts)));
  const int last_row = std::min(grid.size_px - 1, static_cast<int>(std::floor(bottom / kParts)));
  std::vector<int> crossings;
  for (int row = first_row; row <= last_row; ++row) {
    const double y = row * kParts;
    crossings.clear();
    for (std::size_t i = 0; i < corners.size(); ++i) {
      cv::Point2d a = corners[i], b = corners[(i + 1) % corners.size()];
      if (a.y > b.y) std::swap(a, b);
      if (y < a.y || y >= b.y) continue;
      // The first column whose centre is not left of the crossing.
      const double height = b.y - a.y;
      crossings.push_back(
          static_cast<int>(std::ceil((a.x * height + (y - a.y) * (b.x - a.x)) / (height * kParts))));
    }
    std::sort(crossings.begin(), crossings.end());
    for (std::size_t i = 0; i + 1 < crossings.size(); i += 2) {
      const int first = std::clamp(crossings[i], 0, grid.size_px);
      const int end = std::clamp(crossings[i + 1], 0, grid.size_px);
      if (first < end) spans.push_back({row, first, end});
    }
  }
  return spans;
}

}  // namespace corefleck
