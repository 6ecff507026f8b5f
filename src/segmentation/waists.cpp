#include "waists.hpp"

#include "half_contrast.hpp"

#include "corefleck/shape.hpp"
#include "corefleck/statistics.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace corefleck {
namespace {

constexpr double kShallow_px = 0.4;  // dents down to this are left by noise and the pixels
constexpr double kShallow = 0.05;    // of the lesser part's width
constexpr double kLeastPart = 0.04;  // of the whole area
constexpr std::size_t kMostDents = 12;
constexpr double kMiddleFrom = 0.2, kMiddleTo = 0.8;  // of the cut: its ends lie on the flank
constexpr int kSamples = 13;

/// The deepest point of a stretch of outline that its convex hull bridges.
struct Dent {
  std::size_t at;
  double depth;
};

double cross(const cv::Point2d& a, const cv::Point2d& b) { return a.x * b.y - a.y * b.x; }

bool left_of(const cv::Point2d& a, const cv::Point2d& b) { return a.x < b.x || (a.x == b.x && a.y < b.y); }

std::vector<std::size_t> places_on_hull(const Contour& outline) {
  Polygon hull = convex_hull(outline);
  std::sort(hull.begin(), hull.end(), left_of);
  std::vector<std::size_t> places;
  for (std::size_t i = 0; i < outline.size(); ++i)
    if (std::binary_search(hull.begin(), hull.end(), outline[i], left_of)) places.push_back(i);
  return places;
}

std::vector<Dent> dents_of(const Contour& outline) {
  const std::vector<std::size_t> hull = places_on_hull(outline);
  std::vector<Dent> dents;
  for (std::size_t k = 0; k < hull.size(); ++k) {
    const std::size_t from = hull[k], to = k + 1 < hull.size() ? hull[k + 1] : hull[0] + outline.size();
    const cv::Point2d start = outline[from], bridge = outline[to % outline.size()] - start;
    const double length = std::max(std::hypot(bridge.x, bridge.y), 1e-9);
    Dent dent{from, 0.0};
    for (std::size_t i = from + 1; i < to; ++i) {
      const double depth = std::abs(cross(bridge, outline[i % outline.size()] - start)) / length;
      if (depth > dent.depth) dent = {i % outline.size(), depth};
    }
    if (dent.depth > kShallow_px) dents.push_back(dent);
  }
  std::sort(dents.begin(), dents.end(), [](const Dent& a, const Dent& b) {
    return a.depth > b.depth || (a.depth == b.depth && a.at < b.at);
  });
  dents.resize(std::min(dents.size(), kMostDents));
  return dents;
}

/// Twice the area swept from the first point to each.
std::vector<double> swept(const Contour& outline) {
  std::vector<double> sums{0.0};
  for (std::size_t i = 1; i < outline.size(); ++i)
    sums.push_back(sums.back() + cross(outline[i - 1], outline[i]));
  return sums;
}

double plateau_of(const cv::Mat& contrast, const cv::Mat& side) {
  std::vector<double> values;
  for (const cv::Point& p : deep_pixels(side)) values.push_back(static_cast<double>(contrast.at<float>(p)));
  return values.empty() ? 0.0 : median(values);
}

}  // namespace

std::optional<Waist> waist_of(const Contour& outline) {
  const std::vector<Dent> dents = dents_of(outline);
  if (dents.size() < 2) return std::nullopt;
  const std::vector<double> sums = swept(outline);
  const double whole = polygon_area(outline);
  std::optional<Waist> best;
  double most_marked = 0.0;
  for (std::size_t a = 0; a < dents.size(); ++a)
    for (std::size_t b = a + 1; b < dents.size(); ++b) {
      const auto [i, j] = std::minmax(dents[a].at, dents[b].at);
      const double one = 0.5 * std::abs(sums[j] - sums[i] + cross(outline[j], outline[i]));
      const double lesser = std::min(one, whole - one);
      if (lesser < kLeastPart * whole) continue;
      const double width = 2.0 * std::sqrt(lesser / CV_PI), depth = std::min(dents[a].depth, dents[b].depth);
      if (depth < kShallow * width) continue;
      const double breadth = std::hypot(outline[i].x - outline[j].x, outline[i].y - outline[j].y) / width;
      const double marked = breadth - depth / width;
      if (best && marked >= most_marked) continue;
      most_marked = marked;
      best = Waist{outline[i], outline[j], i, j, breadth, lesser};
    }
  return best;
}

Relief relief_at(const Waist& waist,
                 const cv::Point2d& corner,
                 const cv::Mat& contrast,
                 const cv::Mat& one,
                 const cv::Mat& other) {
  double sum = 0.0;
  for (int k = 0; k < kSamples; ++k) {
    const double along = kMiddleFrom + (kMiddleTo - kMiddleFrom) * k / (kSamples - 1);
    const cv::Point2d at = waist.from + along * (waist.to - waist.from) - corner;
    const int x = std::clamp(static_cast<int>(std::lround(at.x)), 0, contrast.cols - 1);
    const int y = std::clamp(static_cast<int>(std::lround(at.y)), 0, contrast.rows - 1);
    sum += static_cast<double>(contrast.at<float>(y, x));
  }
  return {std::min(plateau_of(contrast, one), plateau_of(contrast, other)), sum / kSamples};
}

}  // namespace corefleck
