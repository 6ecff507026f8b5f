#include "local_contrast.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <vector>

namespace corefleck {
namespace {

constexpr float kLeastLevel = 1e-6F;
constexpr int kMargin_px = 3;  // beyond which smoothing does not reach

}  // namespace

LocalContrast::LocalContrast(const CalibratedFace& face, const MatrixLevel& matrix)
    : face_(face), matrix_(matrix) {}

cv::Mat LocalContrast::fine(const cv::Rect& box, float sign) const {
  const cv::Rect wide =
      cv::Rect(
          box.x - kMargin_px, box.y - kMargin_px, box.width + 2 * kMargin_px, box.height + 2 * kMargin_px) &
      cv::Rect(0, 0, face_.grid.size_px, face_.grid.size_px);
  cv::Mat contrast(wide.size(), CV_32FC1);
  std::vector<float> level(static_cast<std::size_t>(wide.width));
  for (int y = 0; y < wide.height; ++y) {
    const float* luminance = face_.luminance.ptr<float>(wide.y + y) + wide.x;
    const unsigned char* out = face_.outside.ptr(wide.y + y) + wide.x;
    auto* c = contrast.ptr<float>(y);
    matrix_.fill_row(wide.y + y, wide.x, wide.br().x, level.data());
    for (int x = 0; x < wide.width; ++x) {
      const float ground = std::max(level[static_cast<std::size_t>(x)], kLeastLevel);
      const bool beyond = out[x] == static_cast<unsigned char>(Outside::beyond_rim);
      c[x] = beyond ? 0.0F : sign * (luminance[x] / ground - 1.0F);
    }
  }
  cv::GaussianBlur(contrast, contrast, {}, kSmoothing_px);
  return contrast(box - wide.tl());
}

cv::Mat LocalContrast::coarse(int factor) const {
  if (factor == 1) return fine({0, 0, face_.grid.size_px, face_.grid.size_px}, 1.0F);
  const int n = face_.grid.size_px / factor;
  const double centre = 0.5 * (factor - 1);
  const double rim = (face_.radius / face_.grid.pitch).number();
  const float share = 1.0F / static_cast<float>(factor * factor);
  std::vector<MatrixLevel::Between> columns;
  for (int i = 0; i < n; ++i) columns.push_back(matrix_.between_columns(i * factor + centre));
  cv::Mat contrast(n, n, CV_32FC1);
  cv::parallel_for_(cv::Range(0, n), [&](const cv::Range& rows) {
    std::vector<float> sums(static_cast<std::size_t>(n * factor));
    for (int j = rows.start; j < rows.end; ++j) {
      std::fill(sums.begin(), sums.end(), 0.0F);
      for (int y = j * factor; y < (j + 1) * factor; ++y) {
        const auto* luminance = face_.luminance.ptr<float>(y);
        for (std::size_t x = 0; x < sums.size(); ++x) sums[x] += luminance[x];
      }
      auto* row = contrast.ptr<float>(j);
      const double y = j * factor + centre, dy = y - face_.grid.centre_px;
      const MatrixLevel::Between between_rows = matrix_.between_rows(y);
      const double half_chord = std::sqrt(std::max(0.0, rim * rim - dy * dy));
      for (int i = 0; i < n; ++i) {
        const double x = i * factor + centre;
        const float* cell = sums.data() + static_cast<std::ptrdiff_t>(i) * factor;
        const float mean = share * std::accumulate(cell, cell + factor, 0.0F);
        const bool beyond = std::abs(x - face_.grid.centre_px) > half_chord;
        const float level = matrix_.at(columns[static_cast<std::size_t>(i)], between_rows);
        row[i] = beyond ? 0.0F : mean / std::max(level, kLeastLevel) - 1.0F;
      }
    }
  });
  return contrast;
}

double LocalContrast::fine_sigma_px() const { return std::hypot(face_.blur_sigma_px, kSmoothing_px); }

double LocalContrast::coarse_sigma_cells(int factor) const {
  if (factor == 1) return fine_sigma_px();
  // A mean over f pixels blurs like a Gaussian of f^2 / 12.
  return std::sqrt(face_.blur_sigma_px * face_.blur_sigma_px + factor * factor / 12.0) / factor;
}

double LocalContrast::level_at(double column, double row) const {
  return static_cast<double>(matrix_.at(column, row));
}

int cell_px(double smallest_spot_px) {
  constexpr double kAcrossSpot = 5.0;
  constexpr int kLargest = 6;
  return std::clamp(static_cast<int>(smallest_spot_px / kAcrossSpot), 1, kLargest);
}

}  // namespace corefleck
