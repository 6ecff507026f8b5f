#include "half_contrast.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace corefleck {
namespace {

constexpr std::size_t kLeastGround_px = 12;
constexpr int kPasses = 8;
constexpr double kLargestHole_mm2 = 0.2;
constexpr double kSameRing = 0.04;  // change of a region's area that leaves its ring of matrix where it is

float median_of(std::vector<float>& values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

double spread_of(std::vector<float> values, float centre) {
  if (values.empty()) return 0.0;
  for (float& v : values) v = std::abs(v - centre);
  return 1.4826 * static_cast<double>(median_of(values));
}

struct Flood {
  cv::Rect box;
  cv::Mat mask;
  cv::Rect window;  // in which it was filled
};

/// Fills the connected region above a threshold, run by run, in a window about its seed.
class WindowFill {
 public:
  WindowFill(const ContrastField& field, const cv::Rect& window, float threshold)
      : field_(field),
        window_(window),
        threshold_(threshold),
        mask_(cv::Mat::zeros(window.size(), CV_8UC1)),
        from_(window.br()),
        to_(window.tl()) {}

  /// False as soon as the region leaves the window through a side that is not the grid's own.
  bool fill(cv::Point seed) {
    std::vector<cv::Point> starts{seed};
    while (!starts.empty()) {
      const cv::Point start = starts.back();
      starts.pop_back();
      if (!open(start.x, start.y)) continue;
      int left = start.x, right = start.x + 1;
      while (left > window_.x && open(left - 1, start.y)) --left;
      while (right < window_.br().x && open(right, start.y)) ++right;
      std::fill(row(start.y) + left - window_.x, row(start.y) + right - window_.x, static_cast<uchar>(255));
      from_ = {std::min(from_.x, left), std::min(from_.y, start.y)};
      to_ = {std::max(to_.x, right), std::max(to_.y, start.y + 1)};
      if (leaves()) return false;
      for (const int y : {start.y - 1, start.y + 1})
        if (y >= window_.y && y < window_.br().y) push_runs(left, right, y, starts);
    }
    return true;
  }

  [[nodiscard]] Flood region() const {
    const cv::Rect box(from_, to_);
    return {box, mask_(box - window_.tl()).clone(), window_};
  }

 private:
  uchar* row(int y) { return mask_.ptr(y - window_.y); }

  [[nodiscard]] bool open(int x, int y) const {
    return mask_.at<uchar>(y - window_.y, x - window_.x) == 0 &&
           field_.contrast.at<float>(y, x) > threshold_ && field_.blocked.at<uchar>(y, x) == 0;
  }

  [[nodiscard]] bool leaves() const {
    const cv::Mat& grid = field_.contrast;
    return (from_.x == window_.x && window_.x > 0) || (from_.y == window_.y && window_.y > 0) ||
           (to_.x == window_.br().x && to_.x < grid.cols) || (to_.y == window_.br().y && to_.y < grid.rows);
  }

  void push_runs(int left, int right, int y, std::vector<cv::Point>& starts) const {
    bool before = false;
    for (int x = left; x < right; ++x) {
      const bool here = open(x, y);
      if (here && !before) starts.emplace_back(x, y);
      before = here;
    }
  }

  const ContrastField& field_;
  cv::Rect window_;
  float threshold_;
  cv::Mat mask_;
  cv::Point from_, to_;
};

// The connected region above a threshold that holds the seed, found in a window that grows as far as it must.
std::optional<Flood> flood(const ContrastField& field, cv::Point seed, float threshold) {
  if (field.contrast.at<float>(seed) <= threshold || field.blocked.at<uchar>(seed) != 0) return std::nullopt;
  const cv::Rect frame(0, 0, field.contrast.cols, field.contrast.rows);
  for (int reach = 24;; reach *= 2) {
    const cv::Rect window = cv::Rect(seed.x - reach, seed.y - reach, 2 * reach + 1, 2 * reach + 1) & frame;
    WindowFill filling(field, window, threshold);
    if (filling.fill(seed)) return filling.region();
    if (reach >= field.largest_px) return std::nullopt;
  }
}

// Of one region whose pixels join by their sides, by Euler's number from quads of pixels (Gray 1971).
bool has_holes(const cv::Mat& mask) {
  // By the pixels of a quad, as bits: 1 and 2 on the left, 4 and 8 on the right. One pixel counts 1, three
  // -1, two on a diagonal 2.
  constexpr std::array<int, 16> kQuad{0, 1, 1, 0, 1, 0, 2, -1, 1, 2, 0, -1, 0, -1, -1, 0};
  const std::vector<uchar> nothing(static_cast<std::size_t>(mask.cols), 0);
  int sum = 0;
  for (int y = 0; y <= mask.rows; ++y) {
    const uchar* above = y > 0 ? mask.ptr(y - 1) : nothing.data();
    const uchar* below = y < mask.rows ? mask.ptr(y) : nothing.data();
    unsigned left = 0;
    for (int x = 0; x < mask.cols; ++x) {
      const unsigned right = (above[x] & 4U) | (below[x] & 8U);
      sum += kQuad[left | right];
      left = right >> 2;
    }
    sum += kQuad[left];
  }
  return sum != 4;
}

// Small dark grains inside a spot belong to it; a hollow as large as a spot does not.
void fill_small_holes(cv::Mat& mask, double largest_px) {
  if (!has_holes(mask)) return;
  std::vector<std::vector<cv::Point>> outlines;
  std::vector<cv::Vec4i> tree;
  cv::findContours(mask, outlines, tree, cv::RETR_CCOMP, cv::CHAIN_APPROX_NONE);
  for (std::size_t i = 0; i < outlines.size(); ++i)
    if (tree[i][3] >= 0 && cv::contourArea(outlines[i]) < largest_px)
      cv::drawContours(mask, outlines, static_cast<int>(i), cv::Scalar(255), cv::FILLED);
}

// What the spot is like away from its flank.
std::vector<float> plateau_of(const ContrastField& field, const Flood& region) {
  std::vector<float> values;
  for (const cv::Point& p : deep_pixels(region.mask))
    values.push_back(field.contrast.at<float>(region.box.tl() + p));
  return values;
}

// Of values that are partly another, lighter population: those that belong to the darker one.
std::vector<float> darker_mode(std::vector<float> values) {
  if (values.size() < kLeastGround_px) return {};
  std::sort(values.begin(), values.end());
  const auto at = [&](double share) {
    return values[static_cast<std::size_t>(share * static_cast<double>(values.size() - 1))];
  };
  const float low = at(0.1), middle = at(0.3);
  const float limit = middle + 2.5F * (middle - low) / 0.757F;  // normal quantiles: z(0.3) - z(0.1) = 0.757
  values.erase(std::upper_bound(values.begin(), values.end(), limit), values.end());
  return values;
}

struct Ring {
  RingOfMatrix matrix;
  cv::Rect window;  // in which it was looked for
};

// A ring of matrix that starts beyond the flank; nothing where too little of it is left.
Ring ground_of(const ContrastField& field, const Flood& region) {
  const int gap = static_cast<int>(std::ceil(1.5 * field.sigma_px + 0.3 / field.pitch_mm));
  const double size = std::sqrt(static_cast<double>(cv::countNonZero(region.mask)));
  const int width =
      static_cast<int>(std::ceil(std::clamp(0.35 * size, 0.4 / field.pitch_mm, 1.5 / field.pitch_mm)));
  const int margin = gap + width + 1;
  const cv::Rect frame(0, 0, field.contrast.cols, field.contrast.rows);
  const cv::Rect window = cv::Rect(region.box.x - margin,
                                   region.box.y - margin,
                                   region.box.width + 2 * margin,
                                   region.box.height + 2 * margin) &
                          frame;
  cv::Mat inverse(window.size(), CV_8UC1, cv::Scalar(255));
  inverse(region.box - window.tl()).setTo(0, region.mask);
  cv::Mat distance;
  cv::distanceTransform(inverse, distance, cv::DIST_L2, 3);
  const auto from = static_cast<float>(gap), to = static_cast<float>(gap + width);
  std::vector<float> matrix, ring;
  for (int y = 0; y < window.height; ++y) {
    const float* away = distance.ptr<float>(y);
    const float* contrast = field.contrast.ptr<float>(window.y + y) + window.x;
    const uchar* blocked = field.blocked.ptr(window.y + y) + window.x;
    const uchar* busy = field.busy.ptr(window.y + y) + window.x;
    for (int x = 0; x < window.width; ++x) {
      if (away[x] <= from || away[x] > to || blocked[x] != 0) continue;
      ring.push_back(contrast[x]);
      if (busy[x] == 0) matrix.push_back(contrast[x]);
    }
  }
  // In a stretch of matrix that is lighter than its local level was taken to be, all of it looks like
  // candidates.
  if (matrix.size() < std::max<std::size_t>(kLeastGround_px, ring.size() / 4))
    matrix = darker_mode(std::move(ring));
  const int count = static_cast<int>(matrix.size());
  if (matrix.size() < kLeastGround_px) return {{0.0F, 0.0, count}, window};
  const float level = median_of(matrix);
  return {{level, spread_of(std::move(matrix), level), count}, window};
}

}  // namespace

std::vector<cv::Point> deep_pixels(const cv::Mat& mask) {
  cv::Mat padded, depth;
  cv::copyMakeBorder(mask, padded, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::distanceTransform(padded, depth, cv::DIST_L2, 3);
  double deepest = 0.0;
  cv::minMaxLoc(depth, nullptr, &deepest);
  const auto limit = static_cast<float>(0.5 * deepest);
  std::vector<cv::Point> deep;
  for (int y = 0; y < mask.rows; ++y) {
    const float* row = depth.ptr<float>(y + 1) + 1;
    for (int x = 0; x < mask.cols; ++x)
      if (row[x] > limit) deep.emplace_back(x, y);
  }
  return deep;
}

std::optional<HalfContrastRegion> half_contrast_region(const ContrastField& field,
                                                       cv::Point seed,
                                                       float start_threshold,
                                                       const RingOfMatrix* known) {
  const double largest_hole_px = kLargestHole_mm2 / (field.pitch_mm * field.pitch_mm);
  HalfContrastRegion result{};
  RingOfMatrix ground = known ? *known : RingOfMatrix{};
  std::vector<float> plateau;
  float threshold = start_threshold, last_step = 0.0F;
  int ground_area = 0;
  for (int pass = 0; pass < kPasses; ++pass) {
    auto region = flood(field, seed, threshold);
    if (!region) return std::nullopt;
    result.read |= region->window;
    fill_small_holes(region->mask, largest_hole_px);
    plateau = plateau_of(field, *region);
    result.plateau = plateau.empty() ? 0.0F : median_of(plateau);
    // The ring begins beyond the flank and does not move with every pixel of the outline.
    const int area = cv::countNonZero(region->mask);
    if (!known && std::abs(area - ground_area) > kSameRing * ground_area) {
      const Ring ring = ground_of(field, *region);
      ground = ring.matrix;
      result.read |= ring.window;
      ground_area = area;
    }
    const float height = result.plateau - ground.level, next = 0.5F * (result.plateau + ground.level);
    // Half the way where the last step went the other way: else two regions may take turns.
    const float step = (next - threshold) * last_step < 0.0F ? 0.5F * (next - threshold) : next - threshold;
    const bool settled = std::abs(next - threshold) < field.settled * std::max(0.1F, height);
    const bool ends = settled || (pass > 0 && height < field.hopeless);
    threshold = ends ? next : threshold + step;
    last_step = step;
    if (ends) break;
  }
  auto region = flood(field, seed, threshold);
  if (!region) return std::nullopt;
  fill_small_holes(region->mask, largest_hole_px);
  result.spread_inside = spread_of(std::move(plateau), result.plateau);
  result.ground = ground.level;
  result.ground_px = ground.count_px;
  result.spread_ground = ground.spread;
  result.threshold = threshold;
  result.read |= region->window;
  result.box = region->box;
  result.mask = region->mask;
  return result;
}

}  // namespace corefleck
