#include "rough_ground.hpp"

#include "corefleck/statistics.hpp"

#include <algorithm>
#include <map>
#include <utility>

namespace corefleck {
namespace {

// In times of the usual patch. Of 158 rendered faces two had fractures behind a broken rim, of 9 times, and
// one a film of water in one place, of 5.4; the roughest patch of the others was of 1.0 to 3.4.
constexpr double kRough = 4.0;
constexpr std::size_t kEnough = 5;  // regions that tell what a patch is like

}  // namespace

RoughGround::RoughGround(const std::vector<PlacedRegion>& mottle,
                         const cv::Mat& free,
                         double least,
                         double patch_cells)
    : patch_cells_(patch_cells) {
  const cv::Point last = patch_of({free.cols - 1, free.rows - 1});
  std::map<std::pair<int, int>, std::vector<double>> heights;
  for (const PlacedRegion& one : mottle) {
    const cv::Point patch = patch_of(one.at);
    heights[{patch.x, patch.y}].push_back(one.region.height);
  }
  cv::Mat rough(last.y + 1, last.x + 1, CV_64FC1, cv::Scalar(0.0));
  std::vector<double> usual;
  for (int y = 0; y <= last.y; ++y)
    for (int x = 0; x <= last.x; ++x) {
      const auto here = heights.find({x, y});
      if (here != heights.end() && here->second.size() >= kEnough)
        rough.at<double>(y, x) = median(here->second);
      else if (free.at<unsigned char>(middle_of({x, y}, free.size())) == 0)
        continue;  // beside the face, or hardly on it
      usual.push_back(std::max(least, rough.at<double>(y, x)));
    }
  if (usual.empty()) return;
  rough = rough > kRough * median(usual);
  if (cv::countNonZero(rough) > 0) rough_ = rough;
}

cv::Point RoughGround::patch_of(cv::Point at) const {
  return {static_cast<int>(at.x / patch_cells_), static_cast<int>(at.y / patch_cells_)};
}

cv::Point RoughGround::middle_of(cv::Point patch, cv::Size face) const {
  return {std::min(static_cast<int>((patch.x + 0.5) * patch_cells_), face.width - 1),
          std::min(static_cast<int>((patch.y + 0.5) * patch_cells_), face.height - 1)};
}

bool RoughGround::holds(cv::Point at) const {
  return !rough_.empty() && rough_.at<unsigned char>(patch_of(at)) != 0;
}

}  // namespace corefleck
