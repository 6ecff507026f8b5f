#include "plaster.hpp"

#include "noise.hpp"
#include "parallel.hpp"

#include <opencv2/imgproc.hpp>

#include <cmath>

namespace scenes {
namespace {

constexpr float kMottlePxPerMm = 4.0f;

float trowel_streaks(std::uint32_t seed, float x, float y, float angle, float length) {
  // A trowel turns about the elbow: streaks are arcs of a large circle.
  const float along = std::cos(angle) * x + std::sin(angle) * y;
  const float across = std::cos(angle) * y - std::sin(angle) * x + along * along / 160.0f;
  return 0.75f * fractal_noise(seed, along / (5 * length) + 50, across / (0.6f * length) + 50, 3) +
         0.5f * fractal_noise(seed ^ 0x51u, x / (1.5f * length) + 50, y / (1.5f * length) + 50, 2);
}

float mottle_at(const PlasterStyle& style, std::uint32_t seed, float x, float y) {
  const float length = static_cast<float>(style.mottle_mm);
  switch (style.mottle) {
    case MottleModel::clouds:
      return fractal_noise(seed, x / length + 50, y / length + 50, 4, 0.6f);
    case MottleModel::cells: {
      const Cell cell = nearest_cell(seed, x / (1.3f * length) + 50, y / (1.3f * length) + 50);
      return static_cast<float>(cell.hash >> 8) * 0x1.0p-23f - 1;
    }
    default:
      return trowel_streaks(seed, x, y, static_cast<float>(style.trowel_rad), length);
  }
}

void scale_to_rms(cv::Mat1f& map, double radius_mm, double rms) {
  cv::Mat1b circle = cv::Mat1b::zeros(map.size());
  cv::circle(circle, {map.cols / 2, map.rows / 2}, static_cast<int>(radius_mm * kMottlePxPerMm), 255, -1);
  cv::Scalar mean, deviation;
  cv::meanStdDev(map, mean, deviation, circle);
  map = (map - mean[0]) * (rms / std::max(deviation[0], 1e-6));
  // Clouds are near normal; the far tail on the light side would be a spot that the truth does not list.
  cv::min(map, 2.6 * rms, map);
  cv::max(map, -3.0 * rms, map);
}

void stamp_grain(cv::Mat1f& factor, float x, float y, float radius, float gain) {
  const int reach = static_cast<int>(std::ceil(radius + 1));
  const int column = static_cast<int>(x), row = static_cast<int>(y);
  for (int j = std::max(0, row - reach); j <= std::min(factor.rows - 1, row + reach); ++j) {
    for (int i = std::max(0, column - reach); i <= std::min(factor.cols - 1, column + reach); ++i) {
      const float distance = std::hypot(static_cast<float>(i) - x, static_cast<float>(j) - y);
      factor(j, i) *= 1 + gain * clamp_unit(radius - distance + 0.5f);
    }
  }
}

}  // namespace

MottleMap draw_mottle(const PlasterStyle& style, double radius_mm, Random random) {
  const std::uint32_t seed = random.noise_seed();
  const int half = static_cast<int>(std::ceil(radius_mm * kMottlePxPerMm)) + 8;
  MottleMap map{cv::Mat1f(2 * half + 1, 2 * half + 1), kMottlePxPerMm, static_cast<float>(half)};
  parallel_rows(map.relative.rows, [&](int j) {
    for (int i = 0; i < map.relative.cols; ++i)
      map.relative(j, i) = mottle_at(style,
                                     seed,
                                     static_cast<float>(i - half) / kMottlePxPerMm,
                                     static_cast<float>(j - half) / kMottlePxPerMm);
  });
  if (style.mottle == MottleModel::cells)
    cv::GaussianBlur(map.relative, map.relative, {}, 0.3 * style.mottle_mm * kMottlePxPerMm);
  scale_to_rms(map.relative, radius_mm, style.mottle_rms);
  return map;
}

cv::Mat1f draw_grain(const PlasterStyle& style, int side, double px_per_mm, Random random) {
  cv::Mat1f factor(side, side);
  const std::uint32_t seed = random.noise_seed();
  // Triangular per texel, the sum of two uniforms; half of it is shared by 2 x 2 texels so that it survives
  // the lens.
  const float rms = static_cast<float>(style.fine_rms * 1.9);
  parallel_rows(side, [&](int j) {
    for (int i = 0; i < side; ++i)
      factor(j, i) = 1 + rms * (lattice_unit(seed, i, j) + 2 * lattice_unit(seed + 1, i / 2, j / 2) - 1.5f);
  });
  const double side_mm = side / px_per_mm;
  const int grains = static_cast<int>(style.grains_per_mm2 * side_mm * side_mm);
  for (int grain = 0; grain < grains; ++grain) {
    const double x = random.uniform(0, side), y = random.uniform(0, side);
    const double radius = 0.5 * random.log_uniform(0.1, 0.4) * px_per_mm;
    const double gain = style.grain_contrast * random.uniform(0.3, 1.0) * (random.chance(0.6) ? -1 : 1);
    stamp_grain(factor,
                static_cast<float>(x),
                static_cast<float>(y),
                static_cast<float>(radius),
                static_cast<float>(gain));
  }
  return factor;
}

}  // namespace scenes
