#include "half_contrast.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace corefleck {
namespace {

constexpr std::size_t kLeastGround_px = 12;

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

// The connected region above a threshold that holds the seed, found in a window that grows as far as it must.
struct Flood {
  cv::Rect box;
  cv::Mat mask;
};

std::optional<Flood> flood(const ContrastField& field, cv::Point seed, float threshold, int limit_px) {
  const cv::Rect frame(0, 0, field.contrast.cols, field.contrast.rows);
  for (int reach = 24;; reach *= 2) {
    const cv::Rect window = cv::Rect(seed.x - reach, seed.y - reach, 2 * reach + 1, 2 * reach + 1) & frame;
    cv::Mat above = (field.contrast(window) > threshold) & (field.blocked(window) == 0);
    const cv::Point local = seed - window.tl();
    if (above.at<unsigned char>(local) == 0) return std::nullopt;
    cv::Rect box;
    cv::floodFill(above, local, cv::Scalar(128), &box, 0, 0, 4);
    const bool touches = (box.x == 0 && window.x > 0) || (box.y == 0 && window.y > 0) ||
                         (box.br().x == window.width && window.br().x < frame.width) ||
                         (box.br().y == window.height && window.br().y < frame.height);
    if (touches && reach < limit_px) continue;
    if (touches) return std::nullopt;
    return Flood{box + window.tl(), above(box) == 128};
  }
}

// Small dark grains inside a spot belong to it; a hollow as large as a spot does not.
void fill_small_holes(cv::Mat& mask, double largest_px) {
  std::vector<std::vector<cv::Point>> outlines;
  std::vector<cv::Vec4i> tree;
  cv::Mat copy = mask.clone();
  cv::findContours(copy, outlines, tree, cv::RETR_CCOMP, cv::CHAIN_APPROX_NONE);
  for (std::size_t i = 0; i < outlines.size(); ++i)
    if (tree[i][3] >= 0 && cv::contourArea(outlines[i]) < largest_px)
      cv::drawContours(mask, outlines, static_cast<int>(i), cv::Scalar(255), cv::FILLED);
}

// Median of the contrast deeper than half the greatest depth: what the spot is like away from its flank.
float plateau_of(const ContrastField& field, const Flood& region, double& spread) {
  cv::Mat padded, depth;
  cv::copyMakeBorder(region.mask, padded, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::distanceTransform(padded, depth, cv::DIST_L2, 3);
  double deepest = 0.0;
  cv::minMaxLoc(depth, nullptr, &deepest);
  std::vector<float> values;
  const auto limit = static_cast<float>(0.5 * deepest);
  for (int y = 0; y < region.mask.rows; ++y)
    for (int x = 0; x < region.mask.cols; ++x)
      if (depth.at<float>(y + 1, x + 1) > limit)
        values.push_back(field.contrast.at<float>(region.box.y + y, region.box.x + x));
  if (values.empty()) return 0.0F;
  const float plateau = median_of(values);
  spread = spread_of(values, plateau);
  return plateau;
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

// Median of a ring of matrix that starts beyond the flank.
float ground_of(const ContrastField& field, const Flood& region, double& spread, int& count) {
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
  std::vector<float> matrix, ring;
  for (int y = 0; y < window.height; ++y)
    for (int x = 0; x < window.width; ++x) {
      const float d = distance.at<float>(y, x);
      if (d <= static_cast<float>(gap) || d > static_cast<float>(gap + width)) continue;
      const cv::Point p(window.x + x, window.y + y);
      if (field.blocked.at<unsigned char>(p) != 0) continue;
      ring.push_back(field.contrast.at<float>(p));
      if (field.busy.at<unsigned char>(p) == 0) matrix.push_back(ring.back());
    }
  // In a stretch of matrix that is lighter than its local level was taken to be, all of it looks like
  // candidates.
  if (matrix.size() < std::max<std::size_t>(kLeastGround_px, ring.size() / 4))
    matrix = darker_mode(std::move(ring));
  count = static_cast<int>(matrix.size());
  if (matrix.size() < kLeastGround_px) {
    spread = 0.0;
    return 0.0F;
  }
  const float ground = median_of(matrix);
  spread = spread_of(matrix, ground);
  return ground;
}

// A blurred disc of radius r (in sigmas) at distance d from its centre, by quadrature of the radial
// convolution.
double blurred_disc(double r, double d) {
  // Integral over the disc of a unit Gaussian: rings around the point, each by the part of it that the disc
  // holds.
  double sum = 0.0;
  constexpr double kStep = 0.02;
  for (double rho = 0.5 * kStep; rho < 6.0; rho += kStep) {
    double share = 0.0;
    if (rho + d <= r)
      share = 1.0;
    else if (d > 1e-9 && rho > std::abs(d - r) - 1e-12 && rho > 0.0) {
      const double cosine = (rho * rho + d * d - r * r) / (2.0 * rho * d);
      share = std::acos(std::clamp(cosine, -1.0, 1.0)) / CV_PI;
    }
    sum += rho * std::exp(-0.5 * rho * rho) * share * kStep;
  }
  return sum;
}

// Radius at which the blurred disc has half of the value that the plateau estimate would give: the median
// over the inner half of the depth lies at 0.354 of the measured radius.
double measured_radius(double r) {
  double low = 0.05, high = r + 4.0;
  for (int i = 0; i < 40; ++i) {
    const double m = 0.5 * (low + high);
    if (blurred_disc(r, m) > 0.5 * blurred_disc(r, 0.354 * m))
      low = m;
    else
      high = m;
  }
  return 0.5 * (low + high);
}

constexpr int kTable = 60;
constexpr double kTableStep = 0.12;

}  // namespace

std::optional<HalfContrastRegion> half_contrast_region(const ContrastField& field,
                                                       cv::Point seed,
                                                       float start_threshold) {
  HalfContrastRegion result{};
  float threshold = start_threshold;
  const int limit = field.largest_px;
  std::optional<Flood> region;
  for (int pass = 0; pass < 8; ++pass) {
    region = flood(field, seed, threshold, limit);
    if (!region) return std::nullopt;
    fill_small_holes(region->mask, 0.2 / (field.pitch_mm * field.pitch_mm));
    result.plateau = plateau_of(field, *region, result.spread_inside);
    result.ground = ground_of(field, *region, result.spread_ground, result.ground_px);
    const float next = 0.5F * (result.plateau + result.ground);
    const bool settled = std::abs(next - threshold) < 0.004F * std::max(0.1F, result.plateau - result.ground);
    threshold = pass < 2 ? next : 0.5F * (threshold + next);
    if (settled || (pass > 0 && result.plateau - result.ground < field.hopeless)) break;
  }
  region = flood(field, seed, threshold, limit);
  if (!region) return std::nullopt;
  fill_small_holes(region->mask, 0.2 / (field.pitch_mm * field.pitch_mm));
  result.threshold = threshold;
  result.box = region->box;
  result.mask = region->mask;
  return result;
}

double deblurred_radius(double measured_px, double sigma_px) {
  static const std::array<double, kTable> table = [] {
    std::array<double, kTable> radii{};
    for (int i = 0; i < kTable; ++i)
      radii[static_cast<std::size_t>(i)] = measured_radius(kTableStep * (i + 1));
    return radii;
  }();
  if (sigma_px < 1e-6) return measured_px;
  const double m = measured_px / sigma_px;
  if (m >= table.back())
    return sigma_px * 0.5 * (m + std::sqrt(m * m + 2.0));  // the contour lies sigma^2 / 2r inside
  if (m <= table.front()) return sigma_px * kTableStep;
  const auto above = std::upper_bound(table.begin(), table.end(), m);
  const auto i = static_cast<double>(above - table.begin());
  const double low = *(above - 1), high = *above;
  return sigma_px * kTableStep * (i + (m - low) / (high - low));
}

}  // namespace corefleck
