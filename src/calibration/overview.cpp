#include "overview.hpp"

#include "corefleck/colorimetry.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
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

// L* by a table over the square root of the level, in which it is nearly straight: finding things asks no
// more.
cv::Mat tone_of(const cv::Mat& luminance) {
  constexpr int kSteps = 8192;
  // White print may be all that is light in a frame of dark things, and too little of it to be its light
  // parts: where tones ended sooner, white and grey blocks were one.
  constexpr float kMost = 6.0F;
  static const std::array<float, kSteps + 1> table = [] {
    std::array<float, kSteps + 1> values{};
    for (int i = 0; i <= kSteps; ++i) {
      const float root = static_cast<float>(i) / kSteps, relative = kMost * root * root;
      values[static_cast<std::size_t>(i)] =
          relative > 0.008856F ? 116.0F * std::cbrt(relative) - 16.0F : 903.3F * relative;
    }
    return values;
  }();
  const float scale = 1.0F / (kMost * light_parts_level(luminance));
  cv::Mat tone(luminance.size(), CV_32FC1);
  cv::parallel_for_(cv::Range(0, luminance.rows), [&](const cv::Range& rows) {
    for (int y = rows.start; y < rows.end; ++y) {
      const auto* from = luminance.ptr<float>(y);
      auto* to = tone.ptr<float>(y);
      for (int x = 0; x < luminance.cols; ++x) {
        const float root = std::sqrt(std::clamp(from[x] * scale, 0.0F, 1.0F));
        to[x] = table[static_cast<std::size_t>(root * kSteps + 0.5F)];
      }
    }
  });
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
  overview.luminance.create(overview.rgb.size(), CV_32FC1);
  cv::parallel_for_(cv::Range(0, overview.rgb.rows), [&](const cv::Range& rows) {
    cv::Mat band = overview.luminance.rowRange(rows);
    cv::transform(overview.rgb.rowRange(rows), band, weights);
  });
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
  const auto fx = static_cast<float>(cx - x0);
  const auto fy = static_cast<float>(cy - y0);
  const auto* upper = image.ptr<float>(y0);
  const auto* lower = image.ptr<float>(y1);
  const float top = upper[x0] + fx * (upper[x1] - upper[x0]);
  const float bottom = lower[x0] + fx * (lower[x1] - lower[x0]);
  return top + fy * (bottom - top);
}

}  // namespace corefleck
