#include "corefleck/report.hpp"

#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>

namespace corefleck {
namespace {

constexpr int kThumbnailWidth = 640;
constexpr std::size_t kCodes = 4096;

float largest(const cv::Mat& luminance) {
  std::vector<float> rows(static_cast<std::size_t>(luminance.rows), 0.0F);
  cv::parallel_for_(cv::Range(0, (luminance.rows + 1) / 2), [&](const cv::Range& range) {
    for (int y = range.start; y < range.end; ++y) {
      const auto* row = luminance.ptr<float>(2 * y);
      float top = 0.0F;
      for (int x = 0; x < luminance.cols; x += 2) top = std::max(top, row[x]);  // drops NaN
      rows[static_cast<std::size_t>(y)] = top;
    }
  });
  return *std::max_element(rows.begin(), rows.end());
}

// Even steps of the cube root are even steps of L*: a code is 0.4 L* or finer.
cv::Mat cube_root_codes(const cv::Mat& luminance, float top, cv::Size size) {
  std::array<std::uint8_t, kCodes> table{};
  for (std::size_t i = 0; i < kCodes; ++i)
    table[i] = static_cast<std::uint8_t>(
        std::lround(255.0 * std::cbrt(static_cast<double>(i) / static_cast<double>(kCodes - 1))));
  const float scale = static_cast<float>(kCodes - 1) / top;
  cv::Mat codes(size, CV_8UC1);
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& range) {
    for (int y = range.start; y < range.end; ++y) {
      const auto* row = luminance.ptr<float>(2 * y);
      auto* code = codes.ptr<std::uint8_t>(y);
      for (int x = 0; x < size.width; ++x) {
        const float place =
            std::min(std::max(0.0F, scale * row[std::ptrdiff_t{2} * x]), static_cast<float>(kCodes - 1));
        code[x] = table[static_cast<std::size_t>(place + 0.5F)];
      }
    }
  });
  return codes;
}

cv::Mat every_other(const cv::Mat& mask, cv::Size size) {
  cv::Mat half(size, CV_8UC1);
  for (int y = 0; y < size.height; ++y) {
    const auto* row = mask.ptr<std::uint8_t>(2 * y);
    auto* to = half.ptr<std::uint8_t>(y);
    for (int x = 0; x < size.width; ++x) to[x] = row[std::ptrdiff_t{2} * x];
  }
  return half;
}

cv::Mat thumbnail_of(const cv::Mat& overview) {
  if (overview.cols <= kThumbnailWidth) return overview;
  cv::Mat small;
  const int height = std::max(1, overview.rows * kThumbnailWidth / overview.cols);
  cv::resize(overview, small, {kThumbnailWidth, height}, 0.0, 0.0, cv::INTER_AREA);
  return small;
}

}  // namespace

PageSources page_sources(const CalibratedFace& face, const SpotMap& spots) {
  PageSources sources;
  sources.thumbnail = thumbnail_of(face.overview);
  const cv::Size size((face.luminance.cols + 1) / 2, (face.luminance.rows + 1) / 2);
  if (face.luminance.empty()) return sources;
  const float top = std::max(largest(face.luminance), 1e-6F);
  sources.light_top = static_cast<double>(top);
  sources.light = cube_root_codes(face.luminance, top, size);
  if (!spots.pit_mask.empty()) sources.pits = every_other(spots.pit_mask, size);
  return sources;
}

}  // namespace corefleck
