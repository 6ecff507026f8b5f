#include "necks.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <vector>

namespace corefleck {
namespace {

// Breadth of the neck over that of the lesser part; set on rendered faces, where 0.64 left twice as many
// touching spots joined and 0.76 cut three more apart.
constexpr float kNeck = 0.70F;
// Between these a neck may part two spots or be a waist of one.
constexpr float kDepthSteps = 1024.0F;  // to a pixel: finer differences of depth are rounding
constexpr float kSurelyNeck = 0.60F, kSurelyWaist = 0.85F;

struct Basin {
  float top;  ///< greatest depth: half the breadth of the part
  int pixels;
  int parent;
  double doubt;            ///< pixels that perhaps are, or are not, another spot's
  float parted_at = 0.0F;  ///< depth of its deepest neck that parts
};

int root_of(std::vector<Basin>& basins, int i) {
  while (basins[static_cast<std::size_t>(i)].parent != i) {
    auto& parent = basins[static_cast<std::size_t>(i)].parent;
    parent = basins[static_cast<std::size_t>(parent)].parent;
    i = parent;
  }
  return i;
}

// Pixels shallower than the neck are not shared out yet when two basins meet: a rim as deep as the neck.
double whole_area(const Basin& basin, float depth) {
  const double radius = std::sqrt(basin.pixels / CV_PI) + static_cast<double>(depth);
  return CV_PI * radius * radius;
}

// Where two basins meet at depth h they are one part unless h is small against both tops.
void meet(std::vector<Basin>& basins, int a, int b, float depth, double least_px) {
  a = root_of(basins, a);
  b = root_of(basins, b);
  if (a == b) return;
  Basin& first = basins[static_cast<std::size_t>(a)];
  Basin& second = basins[static_cast<std::size_t>(b)];
  const float neck = depth / std::min(first.top, second.top);
  const bool two_spots = std::min(first.pixels, second.pixels) >= least_px;
  const double lesser = std::min(whole_area(first, depth), whole_area(second, depth));
  const double doubt = two_spots && neck > kSurelyNeck && neck < kSurelyWaist ? lesser : 0.0;
  first.doubt = std::max(first.doubt, doubt);
  second.doubt = std::max(second.doubt, doubt);
  if (neck < kNeck && two_spots) {
    first.parted_at = std::max(first.parted_at, depth);
    second.parted_at = std::max(second.parted_at, depth);
    return;
  }
  Basin& kept = first.top >= second.top ? first : second;
  Basin& joined = first.top >= second.top ? second : first;
  kept.pixels += joined.pixels;
  kept.doubt = std::max(kept.doubt, joined.doubt);
  kept.parted_at = std::max(kept.parted_at, joined.parted_at);
  joined.parent = first.top >= second.top ? a : b;
}

// Pixels of the mask, in the order of the rows where they are equally deep; sorted by counting.
std::vector<cv::Point> deepest_first(const cv::Mat& mask, const cv::Mat& depth) {
  double deepest = 0.0;
  cv::minMaxLoc(depth, nullptr, &deepest);
  const auto last = static_cast<int>(static_cast<float>(deepest) * kDepthSteps);
  const auto place = [&](int y, int x) {
    return static_cast<std::size_t>(last - static_cast<int>(depth.at<float>(y, x) * kDepthSteps));
  };
  std::vector<std::size_t> start(static_cast<std::size_t>(last) + 2, 0);
  for (int y = 0; y < mask.rows; ++y)
    for (int x = 0; x < mask.cols; ++x)
      if (mask.at<unsigned char>(y, x) != 0) ++start[place(y, x) + 1];
  std::partial_sum(start.begin(), start.end(), start.begin());
  std::vector<cv::Point> order(start.back());
  for (int y = 0; y < mask.rows; ++y)
    for (int x = 0; x < mask.cols; ++x)
      if (mask.at<unsigned char>(y, x) != 0) order[start[place(y, x)]++] = {x, y};
  return order;
}

// The flood reaches a neck from one side first. So what is no deeper than a part's neck goes to the part
// whose deeper pixels are nearest.
void share_out_necks(const cv::Mat& mask, const cv::Mat& depth, std::vector<Basin>& basins, cv::Mat& label) {
  cv::Mat shallow = cv::Mat::ones(label.size(), CV_8UC1), distance, nearest;
  for (int y = 0; y < label.rows; ++y)
    for (int x = 0; x < label.cols; ++x) {
      if (mask.at<unsigned char>(y, x) == 0) continue;
      int& own = label.at<int>(y, x);
      own = root_of(basins, own);
      if (depth.at<float>(y, x) > basins[static_cast<std::size_t>(own)].parted_at)
        shallow.at<unsigned char>(y, x) = 0;
    }
  cv::distanceTransform(shallow, distance, nearest, cv::DIST_L2, 5, cv::DIST_LABEL_CCOMP);
  std::vector<int> part_of(label.total() + 1, 0);
  for (int y = 0; y < label.rows; ++y)
    for (int x = 0; x < label.cols; ++x)
      if (shallow.at<unsigned char>(y, x) == 0)
        part_of[static_cast<std::size_t>(nearest.at<int>(y, x))] = label.at<int>(y, x);
  for (int y = 0; y < label.rows; ++y)
    for (int x = 0; x < label.cols; ++x)
      if (mask.at<unsigned char>(y, x) != 0)
        label.at<int>(y, x) = part_of[static_cast<std::size_t>(nearest.at<int>(y, x))];
}

}  // namespace

Parts part_at_necks(const cv::Mat& mask, double least_px) {
  cv::Mat padded, depth;
  cv::copyMakeBorder(mask, padded, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::distanceTransform(padded, depth, cv::DIST_L2, cv::DIST_MASK_PRECISE);
  cv::GaussianBlur(depth, depth, {}, 0.7);  // pixel steps of the outline are no necks
  const std::vector<cv::Point> order = deepest_first(padded, depth);
  cv::Mat label = cv::Mat::zeros(padded.size(), CV_32SC1);
  std::vector<Basin> basins{{0.0F, 0, 0, 0.0, 0.0F}};  // label 0 is no basin
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
      basins.push_back({d, 0, mine, 0.0, 0.0F});
    }
    mine = root_of(basins, mine);
    basins[static_cast<std::size_t>(mine)].pixels += 1;
    label.at<int>(p) = mine;
  }
  if (std::any_of(basins.begin(), basins.end(), [](const Basin& b) { return b.parted_at > 0.0F; }))
    share_out_necks(padded, depth, basins, label);
  std::vector<int> number(basins.size(), 0);
  Parts parts{cv::Mat::zeros(mask.size(), CV_32SC1), {}};
  for (int y = 0; y < mask.rows; ++y)
    for (int x = 0; x < mask.cols; ++x) {
      const int raw = label.at<int>(y + 1, x + 1);
      if (raw == 0) continue;
      const auto root = static_cast<std::size_t>(root_of(basins, raw));
      if (number[root] == 0) {
        parts.doubt_px.push_back(basins[root].doubt);
        number[root] = static_cast<int>(parts.doubt_px.size());
      }
      parts.labels.at<int>(y, x) = number[root];
    }
  return parts;
}

}  // namespace corefleck
