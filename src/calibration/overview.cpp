#include "overview.hpp"

#include "corefleck/colorimetry.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

namespace corefleck {
namespace {

// Long enough for the blocks of a scale bar to be a dozen pixels long beside a core of a third of the frame's
// height.
constexpr int kLongSide_px = 1300;

float light_parts_level(const cv::Mat& luminance) {
  std::vector<float> sample;
  for (int y = 0; y < luminance.rows; y += 4)
    for (int x = 0; x < luminance.cols; x += 4) sample.push_back(luminance.at<float>(y, x));
  const auto at = sample.begin() + static_cast<std::ptrdiff_t>(0.98 * static_cast<double>(sample.size() - 1));
  std::nth_element(sample.begin(), at, sample.end());
  return std::max(*at, 1e-3F);
}

cv::Mat tone_of(const cv::Mat& luminance) {
  const float white = light_parts_level(luminance);
  cv::Mat tone(luminance.size(), CV_32FC1);
  for (int y = 0; y < luminance.rows; ++y) {
    const float* from = luminance.ptr<float>(y);
    float* to = tone.ptr<float>(y);
    for (int x = 0; x < luminance.cols; ++x) {
      const float relative = std::min(from[x] / white, 1.5F);
      to[x] = relative > 0.008856F ? 116.0F * std::cbrt(relative) - 16.0F : 903.3F * relative;
    }
  }
  return tone;
}

}  // namespace

Overview make_overview(const Photo& photo) {
  Overview overview;
  const int long_side = std::max(photo.width_px(), photo.height_px());
  overview.factor = std::max(1, (long_side + kLongSide_px - 1) / kLongSide_px);
  overview.rgb = reduced_linear_rgb(photo, overview.factor);
  const cv::Matx13f weights(static_cast<float>(kLuminanceOfSrgb[0]),
                            static_cast<float>(kLuminanceOfSrgb[1]),
                            static_cast<float>(kLuminanceOfSrgb[2]));
  cv::transform(overview.rgb, overview.luminance, weights);
  overview.tone = tone_of(overview.luminance);
  return overview;
}

float bilinear(const cv::Mat& image, double x, double y) {
  const double cx = std::clamp(x, 0.0, static_cast<double>(image.cols - 1));
  const double cy = std::clamp(y, 0.0, static_cast<double>(image.rows - 1));
  const int x0 = std::min(static_cast<int>(cx), std::max(image.cols - 2, 0));
  const int y0 = std::min(static_cast<int>(cy), std::max(image.rows - 2, 0));
  const int x1 = std::min(x0 + 1, image.cols - 1);
  const int y1 = std::min(y0 + 1, image.rows - 1);
  const float fx = static_cast<float>(cx - x0);
  const float fy = static_cast<float>(cy - y0);
  const float* upper = image.ptr<float>(y0);
  const float* lower = image.ptr<float>(y1);
  const float top = upper[x0] + fx * (upper[x1] - upper[x0]);
  const float bottom = lower[x0] + fx * (lower[x1] - lower[x0]);
  return top + fy * (bottom - top);
}

}  // namespace corefleck
