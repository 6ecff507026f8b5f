#include "necks.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <numeric>
#include <vector>

namespace corefleck {
namespace {

constexpr float kNeck =
    0.64F;  // breadth of the neck over that of the lesser part; common practice, no source

struct Basin {
  float top;  ///< greatest depth: half the breadth of the part
  int pixels;
  int parent;
};

int root_of(std::vector<Basin>& basins, int i) {
  while (basins[static_cast<std::size_t>(i)].parent != i) {
    auto& parent = basins[static_cast<std::size_t>(i)].parent;
    parent = basins[static_cast<std::size_t>(parent)].parent;
    i = parent;
  }
  return i;
}

// Where two basins meet at depth h they are one part unless h is small against both tops.
void meet(std::vector<Basin>& basins, int a, int b, float depth, double least_px) {
  a = root_of(basins, a);
  b = root_of(basins, b);
  if (a == b) return;
  Basin& first = basins[static_cast<std::size_t>(a)];
  Basin& second = basins[static_cast<std::size_t>(b)];
  const bool narrow = depth < kNeck * std::min(first.top, second.top);
  if (narrow && std::min(first.pixels, second.pixels) >= least_px) return;
  Basin& kept = first.top >= second.top ? first : second;
  Basin& joined = first.top >= second.top ? second : first;
  kept.pixels += joined.pixels;
  joined.parent = first.top >= second.top ? a : b;
}

}  // namespace

cv::Mat part_at_necks(const cv::Mat& mask, double least_px, int& parts) {
  cv::Mat padded, depth;
  cv::copyMakeBorder(mask, padded, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::distanceTransform(padded, depth, cv::DIST_L2, cv::DIST_MASK_PRECISE);
  cv::GaussianBlur(depth, depth, {}, 0.7);  // pixel steps of the outline are no necks
  std::vector<cv::Point> order;
  for (int y = 1; y <= mask.rows; ++y)
    for (int x = 1; x <= mask.cols; ++x)
      if (padded.at<unsigned char>(y, x) != 0) order.emplace_back(x, y);
  std::stable_sort(order.begin(), order.end(), [&](cv::Point a, cv::Point b) {
    return depth.at<float>(a) > depth.at<float>(b);
  });
  cv::Mat label = cv::Mat::zeros(padded.size(), CV_32SC1);
  std::vector<Basin> basins{{0.0F, 0, 0}};  // label 0 is no basin
  for (const cv::Point& p : order) {
    const float d = depth.at<float>(p);
    int mine = 0;
    for (int dy = -1; dy <= 1; ++dy)
      for (int dx = -1; dx <= 1; ++dx) {
        const int other = label.at<int>(p.y + dy, p.x + dx);
        if (other == 0) continue;
        if (mine == 0)
          mine = root_of(basins, other);
        else
          meet(basins, mine, other, d, least_px);
      }
    if (mine == 0) {
      mine = static_cast<int>(basins.size());
      basins.push_back({d, 0, mine});
    }
    mine = root_of(basins, mine);
    basins[static_cast<std::size_t>(mine)].pixels += 1;
    label.at<int>(p) = mine;
  }
  std::vector<int> number(basins.size(), 0);
  parts = 0;
  cv::Mat result = cv::Mat::zeros(mask.size(), CV_32SC1);
  for (int y = 0; y < mask.rows; ++y)
    for (int x = 0; x < mask.cols; ++x) {
      const int raw = label.at<int>(y + 1, x + 1);
      if (raw == 0) continue;
      int& n = number[static_cast<std::size_t>(root_of(basins, raw))];
      if (n == 0) n = ++parts;
      result.at<int>(y, x) = n;
    }
  return result;
}

}  // namespace corefleck
