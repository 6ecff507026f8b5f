#include "matrix_noise.hpp"

#include "corefleck/in_bands.hpp"
#include "corefleck/statistics.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

namespace corefleck {
namespace {

constexpr int kPatches = 24;  // across the face
constexpr int kPatch_px = 12;
constexpr double kAround = 4.0;    // width of a spot's surroundings over that of its means
constexpr double kUnknown = 0.02;  // where the face leaves too little to tell

std::vector<double> mottle_below(const cv::Mat& means, const cv::Mat& around, const cv::Mat& blocked) {
  std::vector<double> below;
  const int stride = std::max(1, means.rows / 400);
  for (int y = stride; y < means.rows; y += stride)
    for (int x = stride; x < means.cols; x += stride) {
      const float off = means.at<float>(y, x) - around.at<float>(y, x);
      if (blocked.at<unsigned char>(y, x) == 0 && off < 0.0F) below.push_back(-static_cast<double>(off));
    }
  return below;
}

std::vector<double> pixels_about(const LocalContrast& contrast,
                                 const cv::Mat& means,
                                 const cv::Mat& blocked,
                                 int factor) {
  std::vector<std::vector<double>> by_row(kPatches);
  cv::parallel_for_(cv::Range(1, kPatches), [&](const cv::Range& rows) {
    for (int j = rows.start; j < rows.end; ++j)
      for (int i = 1; i < kPatches; ++i) {
        const cv::Point cell(i * means.cols / kPatches, j * means.rows / kPatches);
        if (blocked.at<unsigned char>(cell) != 0) continue;
        const cv::Rect patch = cv::Rect(cell * factor, cv::Size(kPatch_px, kPatch_px)) &
                               cv::Rect(0, 0, means.cols * factor, means.rows * factor);
        const cv::Mat fine = contrast.fine(patch, 1.0F);
        for (int y = 0; y < patch.height; y += 2)
          for (int x = 0; x < patch.width; x += 2) {
            const cv::Point at((patch.x + x) / factor, (patch.y + y) / factor);
            if (blocked.at<unsigned char>(at) == 0)
              by_row[static_cast<std::size_t>(j)].push_back(
                  static_cast<double>(fine.at<float>(y, x) - means.at<float>(at)));
          }
      }
  });
  std::vector<double> off;
  for (const std::vector<double>& row : by_row) off.insert(off.end(), row.begin(), row.end());
  return off;
}

}  // namespace

MatrixNoise matrix_noise(const LocalContrast& contrast,
                         const cv::Mat& coarse,
                         const cv::Mat& blocked,
                         int factor,
                         double spot_px) {
  const double width = std::max(1.0, 0.35 * spot_px / factor);
  const cv::Mat means =
      in_bands(coarse, CV_32FC1, static_cast<int>(std::ceil(4.0 * width)) + 1, [&](const cv::Mat& band) {
        cv::Mat smooth;
        cv::GaussianBlur(band, smooth, {}, width);
        return smooth;
      });
  const std::vector<double> fine = pixels_about(contrast, means, blocked, factor);
  // Slower changes lift a spot and its surroundings alike.
  cv::Mat fewer, around;  // slow enough for a quarter of the cells
  cv::resize(means, fewer, {}, 0.25, 0.25, cv::INTER_AREA);
  cv::GaussianBlur(fewer, fewer, {}, std::max(0.5, 0.25 * kAround * width));
  cv::resize(fewer, around, means.size(), 0, 0, cv::INTER_LINEAR);
  const std::vector<double> below = mottle_below(means, around, blocked);
  if (fine.size() < 100 || below.size() < 50) return {kUnknown, kUnknown};
  return {robust_deviation(fine), 1.4826 * median(below)};
}

}  // namespace corefleck
