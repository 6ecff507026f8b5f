#include "matrix_level.hpp"

#include "corefleck/statistics.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <numeric>

namespace corefleck {
namespace {

constexpr double kSmoothing_mm = 4.0;  // wide against spots, narrow against the face
constexpr int kPasses = 6;

cv::Mat cell_means(const cv::Mat& luminance, const cv::Mat& outside, int cell, cv::Mat& weight) {
  const int n = luminance.cols / cell;
  cv::Mat means = cv::Mat::zeros(n, n, CV_32FC1);
  weight = cv::Mat::zeros(n, n, CV_32FC1);
  cv::parallel_for_(cv::Range(0, n), [&](const cv::Range& rows) {
    const auto columns = static_cast<std::size_t>(n) * static_cast<std::size_t>(cell);
    std::vector<float> sums(columns), counts(columns);
    for (int j = rows.start; j < rows.end; ++j) {
      std::fill(sums.begin(), sums.end(), 0.0F);
      std::fill(counts.begin(), counts.end(), 0.0F);
      for (int y = j * cell; y < (j + 1) * cell; ++y) {
        const float* row = luminance.ptr<float>(y);
        const unsigned char* out = outside.ptr(y);
        for (std::size_t x = 0; x < columns; ++x) {
          const float used = out[x] == 0 ? 1.0F : 0.0F;
          sums[x] += used * row[x];
          counts[x] += used;
        }
      }
      for (int i = 0; i < n; ++i) {
        const auto from = static_cast<std::ptrdiff_t>(i) * cell;
        const float count = std::accumulate(counts.begin() + from, counts.begin() + from + cell, 0.0F);
        if (2.0F * count < static_cast<float>(cell * cell)) continue;
        means.at<float>(j, i) =
            std::accumulate(sums.begin() + from, sums.begin() + from + cell, 0.0F) / count;
        weight.at<float>(j, i) = 1.0F;
      }
    }
  });
  return means;
}

// A wide Gaussian is made on cells of cells: it leaves nothing finer.
cv::Mat smoothed(const cv::Mat& values, double sigma) {
  constexpr double kSigmaCells = 4.0;
  const double zoom = std::min(1.0, kSigmaCells / sigma);
  cv::Mat small, smooth;
  cv::resize(values, small, {}, zoom, zoom, cv::INTER_AREA);
  const double used = sigma * static_cast<double>(small.cols) / values.cols;
  cv::GaussianBlur(small, small, {}, used, used, cv::BORDER_CONSTANT);
  cv::resize(small, smooth, values.size(), 0, 0, cv::INTER_LINEAR);
  return smooth;
}

cv::Mat masked_smooth(const cv::Mat& values, const cv::Mat& weight, double sigma) {
  cv::Mat weighted, smooth;
  cv::multiply(values, weight, weighted);
  cv::divide(smoothed(weighted, sigma), cv::max(smoothed(weight, sigma), 1e-6), smooth);
  return smooth;
}

double level_of_most(const cv::Mat& values, const cv::Mat& weight) {
  std::vector<double> inside;
  for (int y = 0; y < values.rows; ++y)
    for (int x = 0; x < values.cols; ++x)
      if (weight.at<float>(y, x) > 0.0F) inside.push_back(static_cast<double>(values.at<float>(y, x)));
  if (inside.empty()) return 0.0;
  // Spots only ever lie above: the lower half tells the matrix better than the middle.
  const auto at = inside.begin() + static_cast<std::ptrdiff_t>(0.42 * static_cast<double>(inside.size() - 1));
  std::nth_element(inside.begin(), at, inside.end());
  return *at;
}

// Deviation from the lower side alone, which spots do not reach; every other cell of every other row tells
// it.
double lower_deviation(const cv::Mat& values, const cv::Mat& level, const cv::Mat& weight) {
  std::vector<double> below;
  for (int y = 0; y < values.rows; y += 2)
    for (int x = 0; x < values.cols; x += 2) {
      if (weight.at<float>(y, x) <= 0.0F) continue;
      const double off =
          static_cast<double>(values.at<float>(y, x) / std::max(level.at<float>(y, x), 1e-6F)) - 1.0;
      if (off < 0.0) below.push_back(-off);
    }
  return below.empty() ? 0.02 : std::max(0.003, 1.4826 * median(below));
}

}  // namespace

MatrixLevel::Between MatrixLevel::between(double pixel, int cells) const {
  const double place = std::clamp((pixel + 0.5) / cell_px - 0.5, 0.0, static_cast<double>(cells - 1));
  const int first = std::min(static_cast<int>(place), cells - 2);
  return {first, static_cast<float>(place - first)};
}

float MatrixLevel::at(const Between& column, const Between& row) const {
  const float* a = level.ptr<float>(row.first) + column.first;
  const float* b = level.ptr<float>(row.first + 1) + column.first;
  const float top = a[0] + column.share * (a[1] - a[0]);
  const float bottom = b[0] + column.share * (b[1] - b[0]);
  return top + row.share * (bottom - top);
}

float MatrixLevel::at(double column, double row) const {
  return at(between_columns(column), between_rows(row));
}

// One grid row of the level: the row between its two cell rows once, then along it.
void MatrixLevel::fill_row(int row, int from, int to, float* out) const {
  const double y = std::clamp((row + 0.5) / cell_px - 0.5, 0.0, static_cast<double>(level.rows - 1));
  const int y0 = std::min(static_cast<int>(y), level.rows - 2);
  const auto fy = static_cast<float>(y - y0);
  const float step = 1.0F / static_cast<float>(cell_px);
  const auto last = static_cast<float>(level.cols - 1);
  const auto place = [&](int column) {
    return std::clamp((static_cast<float>(column) + 0.5F) * step - 0.5F, 0.0F, last);
  };
  const auto cell = [&](float x) { return std::min(static_cast<int>(x), level.cols - 2); };
  const int first = cell(place(from));
  std::vector<float> between;
  for (int i = first; i <= cell(place(to - 1)) + 1; ++i) {
    const float top = level.at<float>(y0, i);
    between.push_back(top + fy * (level.at<float>(y0 + 1, i) - top));
  }
  for (int column = from; column < to; ++column) {
    const float x = place(column);
    const int x0 = cell(x);
    const float left = between[static_cast<std::size_t>(x0 - first)];
    const float right = between[static_cast<std::size_t>(x0 - first) + 1];
    out[column - from] = left + (x - static_cast<float>(x0)) * (right - left);
  }
}

MatrixLevel matrix_level(const CalibratedFace& face, const cv::Mat& outside, Millimetres min_spot) {
  MatrixLevel matrix{};
  matrix.cell_px = std::clamp(
      static_cast<int>(0.5 * (min_spot / face.grid.pitch).number()), 2, face.grid.size_px / 40 + 2);
  cv::Mat inside;
  const cv::Mat means = cell_means(face.luminance, outside, matrix.cell_px, inside);
  const double cell_mm = matrix.cell_px * face.grid.pitch.number();
  const double sigma = std::max(2.0, kSmoothing_mm / cell_mm);
  matrix.level = cv::Mat(means.size(), CV_32FC1, cv::Scalar(level_of_most(means, inside)));
  cv::Mat used = inside.clone();
  for (int pass = 0; pass < kPasses; ++pass) {
    const double mottle = lower_deviation(means, matrix.level, used);
    const auto above = static_cast<float>(1.0 + std::max(0.05, 2.0 * mottle));
    const auto below = static_cast<float>(1.0 - std::max(0.08, 3.0 * mottle));
    cv::Mat light = (means > matrix.level * above) | (means < matrix.level * below);
    cv::dilate(light, light, cv::getStructuringElement(cv::MORPH_ELLIPSE, {3, 3}));
    used = inside.clone();
    used.setTo(0, light);
    matrix.level = masked_smooth(means, used + inside * 1e-4F, sigma * (pass < 2 ? 2.5 : 1.0));
  }
  return matrix;
}

}  // namespace corefleck
