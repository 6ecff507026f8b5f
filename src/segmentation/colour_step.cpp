#include "colour_step.hpp"

#include "corefleck/colorimetry.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kLeastStep = 0.06;    // in ln(R/G), ln(B/G)
constexpr double kAboveSectors = 4.0;  // in deviations of the ring's sectors from each other
constexpr int kSectors = 8;
constexpr int kLeastSectors = 5;
constexpr int kLeastPixels = 4;

using Sum = cv::Vec4d;  // R, G, B, count

cv::Vec2d chromaticity(const Sum& sum) {
  const double green = std::log(std::max(sum[1], 1e-9));
  return {std::log(std::max(sum[0], 1e-9)) - green, std::log(std::max(sum[2], 1e-9)) - green};
}

double luminance_of(const cv::Vec3d& linear) { return luminance({linear[0], linear[1], linear[2]}); }

cv::Vec3d mean_of(const Sum& sum) { return cv::Vec3d(sum[0], sum[1], sum[2]) / std::max(sum[3], 1.0); }

/// `colour` with the same amount added to each of its sRGB codes, so much that it is as luminous as told.
cv::Vec3d lifted(const cv::Vec3d& colour, double wanted) {
  cv::Vec3d codes, linear = colour;
  for (int i = 0; i < 3; ++i) codes[i] = linear_to_srgb(std::max(0.0, colour[i]));
  double low = 0.0, high = 1.0;
  constexpr int kHalvings = 12;
  for (int pass = 0; pass < kHalvings; ++pass) {
    const double lift = 0.5 * (low + high);
    for (int i = 0; i < 3; ++i) linear[i] = srgb_to_linear(codes[i] + lift);
    (luminance_of(linear) < wanted ? low : high) = lift;
  }
  return linear;
}

/// How far `p` is from the line from 0 to `end`.
double beyond(const cv::Vec2d& p, const cv::Vec2d& end) {
  const double length2 = end.dot(end);
  const double along = length2 > 0.0 ? std::clamp(p.dot(end) / length2, 0.0, 1.0) : 0.0;
  return cv::norm(p - along * end);
}

cv::Mat distances(const cv::Mat& mask, const cv::Rect& window, const cv::Rect& box, bool inside) {
  cv::Mat shape(window.size(), CV_8UC1, cv::Scalar(inside ? 0 : 255));
  shape(box - window.tl()).setTo(inside ? 255 : 0, mask);
  cv::Mat distance;
  cv::distanceTransform(shape, distance, cv::DIST_L2, 3);
  return distance;
}

int sector_of(double dx, double dy) {
  return static_cast<int>((std::atan2(dy, dx) / CV_PI + 1.0) * 0.5 * kSectors) % kSectors;
}

struct Sums {
  Sum inner;
  std::array<Sum, kSectors> ring;
};

Sums gather(const CellColour& colour,
            const cv::Mat& blocked,
            const HalfContrastRegion& region,
            const cv::Rect& window,
            double flank_px,
            double ring_px) {
  const cv::Mat in = distances(region.mask, window, region.box, true);
  const cv::Mat out = distances(region.mask, window, region.box, false);
  double deepest = 0.0;
  cv::minMaxLoc(in, nullptr, &deepest);
  const auto deep = static_cast<float>(std::min(flank_px, 0.5 * deepest));
  const auto from = static_cast<float>(flank_px), to = static_cast<float>(flank_px + ring_px);
  const double cx = region.box.x + 0.5 * region.box.width, cy = region.box.y + 0.5 * region.box.height;
  Sums sums{};
  for (int y = 0; y < window.height; ++y)
    for (int x = 0; x < window.width; ++x) {
      const cv::Point p(window.x + x, window.y + y);
      const bool inner = in.at<float>(y, x) > deep;
      const float away = out.at<float>(y, x);
      if (!inner && (away <= from || away > to || blocked.at<unsigned char>(p) != 0)) continue;
      const cv::Vec3d v = colour.at(p);
      const Sum add(v[0], v[1], v[2], 1.0);
      if (inner)
        sums.inner += add;
      else
        sums.ring[static_cast<std::size_t>(sector_of(p.x - cx, p.y - cy))] += add;
    }
  return sums;
}

}  // namespace

cv::Vec3d CellColour::at(cv::Point cell) const {
  const auto span = [&](int index, int size) {
    const int from = std::min(index * factor / 2, size - 1);
    return cv::Range(from, std::clamp(((index + 1) * factor + 1) / 2, from + 1, size));
  };
  const cv::Range rows = span(cell.y, half.rows), columns = span(cell.x, half.cols);
  cv::Vec3d sum(0.0, 0.0, 0.0);
  for (int y = rows.start; y < rows.end; ++y)
    for (int x = columns.start; x < columns.end; ++x) sum += cv::Vec3d(half.at<cv::Vec3f>(y, x));
  return sum / rows.size() / columns.size();
}

bool has_own_colour(const CellColour& colour,
                    const cv::Mat& blocked,
                    const HalfContrastRegion& region,
                    double sigma_px,
                    double pitch_mm) {
  const double flank_px = 1.5 * sigma_px + 0.15 / pitch_mm;  // chroma is stored more coarsely than luminance
  const double ring_px = std::max(0.5 / pitch_mm, 2.0);
  const int margin = static_cast<int>(std::ceil(flank_px + ring_px)) + 1;
  const cv::Rect window = cv::Rect(region.box.x - margin,
                                   region.box.y - margin,
                                   region.box.width + 2 * margin,
                                   region.box.height + 2 * margin) &
                          cv::Rect(0, 0, blocked.cols, blocked.rows);
  const Sums sums = gather(colour, blocked, region, window, flank_px, ring_px);
  if (sums.inner[3] < kLeastPixels) return false;
  Sum ring(0.0, 0.0, 0.0, 0.0);
  cv::Vec2d mean(0.0, 0.0), square(0.0, 0.0);
  int sectors = 0;
  for (const Sum& sector : sums.ring) {
    if (sector[3] < kLeastPixels) continue;
    const cv::Vec2d c = chromaticity(sector);
    mean += c;
    square += c.mul(c);
    ring += sector;
    ++sectors;
  }
  if (sectors < kLeastSectors) return false;
  mean /= sectors;
  const cv::Vec2d variance = square / sectors - mean.mul(mean);
  const double scatter = std::sqrt(std::max(0.0, variance[0] + variance[1]));
  // JPEG stores colour as differences of codes on a grid half as fine as lightness: a small place that is
  // only lighter keeps the matrix's differences, and so is paler.
  const cv::Vec3d pale = lifted(mean_of(ring), luminance_of(mean_of(sums.inner)));
  const cv::Vec2d paler = chromaticity({pale[0], pale[1], pale[2], 1.0}) - chromaticity(ring);
  const double step = beyond(chromaticity(sums.inner) - mean, paler);
  return step > kLeastStep && step > kAboveSectors * scatter;
}

}  // namespace corefleck
