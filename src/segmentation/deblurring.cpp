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
  for (const cv::Point& p : deep)
    values.push_back(fine.at<float>(p * kFiner + cv::Point(kFiner / 2, kFiner / 2)));
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
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
