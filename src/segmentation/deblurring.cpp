#include "deblurring.hpp"

#include "corefleck/shape.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

namespace corefleck {
namespace {

constexpr int kFiner = 5;  // odd, so that pixel centres fall on nodes of the finer grid
constexpr int kMargin_px = 6;
constexpr int kPasses = 4;
constexpr double kWide = 8.0;  // radius in sigmas beyond which blur leaves the plateau alone
// Radius in sigmas below which blur rounds a long or lobed region, so that its shape must be found, too.
constexpr double kNarrow = 3.0;
constexpr int kReshapings = 10;             // drawn ellipses of aspects up to 2.7 settle within seven
constexpr double kShapeSmoothing_px = 0.4;  // keeps what blur has wiped out from growing as noise

cv::Rect margin_around(const cv::Rect& box, const cv::Size& size) {
  return cv::Rect(box.x - kMargin_px,
                  box.y - kMargin_px,
                  box.width + 2 * kMargin_px,
                  box.height + 2 * kMargin_px) &
         cv::Rect({0, 0}, size);
}

/// The region crisp on the finer grid, 1 inside.
cv::Mat drawn(const cv::Mat& contrast, const cv::Mat& mask, float threshold) {
  cv::Mat fine, near;
  cv::resize(contrast, fine, {}, kFiner, kFiner, cv::INTER_CUBIC);
  cv::dilate(mask, near, cv::Mat());
  cv::resize(near, near, fine.size(), 0, 0, cv::INTER_NEAREST);
  cv::Mat inside = (fine > threshold) & near, shape;
  inside.convertTo(shape, CV_32F, 1.0 / 255.0);
  return shape;
}

float plateau_of(const cv::Mat& fine, const std::vector<cv::Point>& deep) {
  std::vector<float> values;
  values.reserve(deep.size());
  for (const cv::Point& p : deep)
    values.push_back(fine.at<float>(p * kFiner + cv::Point(kFiner / 2, kFiner / 2)));
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

/// Pixels of the finer grid from the boundary, positive inside.
cv::Mat signed_distance(const cv::Mat& inside) {
  cv::Mat within, beyond;
  cv::distanceTransform(inside, within, cv::DIST_L2, 5);
  cv::distanceTransform(inside == 0, beyond, cv::DIST_L2, 5);
  return within - beyond;
}

/// The region as blur shows it, from its crisp shape: within half the plateau's height.
cv::Mat shown(const cv::Mat& crisp, const std::vector<cv::Point>& deep, double sigma) {
  cv::Mat blurred;
  crisp.convertTo(blurred, CV_32F, 1.0 / 255.0);
  cv::GaussianBlur(blurred, blurred, {}, sigma, sigma, cv::BORDER_CONSTANT);
  return blurred > 0.5F * plateau_of(blurred, deep);
}

/// Area over the drawn shape's of the shape that looks like the drawn one under the blur: its boundary is
/// moved by as much as what it would look like lies beside the drawn one, until that lies on it.
double reshaped_ratio(const cv::Mat& shape, const std::vector<cv::Point>& deep, double sigma) {
  const cv::Mat drawn_distance = signed_distance(shape > 0.5);
  cv::Mat distance = drawn_distance.clone();
  for (int pass = 0; pass < kReshapings; ++pass) {
    const cv::Mat looks = shown(distance > 0.0, deep, sigma);
    if (cv::countNonZero(looks) == 0) break;
    cv::Mat moved = distance + drawn_distance - signed_distance(looks);
    cv::GaussianBlur(moved, moved, {}, kFiner * kShapeSmoothing_px);
    if (cv::countNonZero(moved > 0.0) == 0) break;
    distance = moved;
  }
  return level_area(distance, 0.0F) / std::max(1.0, level_area(drawn_distance, 0.0F));
}

}  // namespace

double deblurring_ratio(const cv::Mat& contrast, const HalfContrastRegion& region, double sigma_px) {
  const double area = std::max(1, cv::countNonZero(region.mask));
  if (area > CV_PI * kWide * kWide * sigma_px * sigma_px) return 1.0 + CV_PI * sigma_px * sigma_px / area;
  const cv::Rect window = margin_around(region.box, contrast.size());
  cv::Mat mask = cv::Mat::zeros(window.size(), CV_8UC1);
  region.mask.copyTo(mask(region.box - window.tl()));
  const cv::Mat shape = drawn(contrast(window), mask, region.threshold);
  const double drawn_area = cv::sum(shape)[0];
  const std::vector<cv::Point> deep = deep_pixels(mask);
  if (drawn_area < 1.0 || deep.empty()) return 1.0;
  if (area < CV_PI * kNarrow * kNarrow * sigma_px * sigma_px)
    return reshaped_ratio(shape, deep, kFiner * sigma_px);
  // A shape g times as large under the blur looks, but for its scale, like this one under blur / g.
  double growth = 1.0;
  for (int pass = 0; pass < kPasses; ++pass) {
    const double sigma = kFiner * sigma_px / growth;
    cv::Mat blurred;
    cv::GaussianBlur(shape, blurred, {}, sigma, sigma, cv::BORDER_CONSTANT);
    const double seen = level_area(blurred, 0.5F * plateau_of(blurred, deep));
    if (seen < 0.25 * drawn_area) break;
    growth = std::sqrt(drawn_area / seen);
  }
  return growth * growth;
}

}  // namespace corefleck
