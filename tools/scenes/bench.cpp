#include "bench.hpp"

#include "noise.hpp"
#include "parallel.hpp"
#include "random.hpp"
#include "sheets.hpp"

#include <algorithm>
#include <cmath>

namespace scenes {
namespace {

constexpr double kMostTexels = 2.0e6;

/// A relative texture, 1 on average, and how far the colour moves with it.
struct Texture {
  float relative;
  float warmth = 0;
};

Texture wood(std::uint32_t seed, float x, float y, float strength) {
  const float bend = 6 * fractal_noise(seed, x / 180 + 50, y / 45 + 50, 2);
  const float rings = std::sin(1.1f * (y + bend) + 3 * fractal_noise(seed + 1, x / 90 + 50, y / 9 + 50, 2));
  const float fibre = fractal_noise(seed + 2, x / 14 + 50, y * 2.2f + 50, 3);
  const float pore = smooth_step(0.45f, 0.75f, value_noise(seed + 3, x / 5 + 50, y * 4 + 50));
  const float plank = 0.15f * (2 * lattice_unit(seed + 4, 0, static_cast<int>(std::floor(y / 70 + 50))) - 1);
  const float joint = std::abs(y / 70 - std::round(y / 70)) < 0.006f ? 0.6f : 0.0f;
  const float sum = 0.13f * rings + 0.2f * fibre - 0.3f * pore;
  return {1 + strength * (sum + plank) - joint, 0.4f * rings};
}

Texture cloth(std::uint32_t seed, float x, float y, float strength) {
  const float pitch = 0.7f + 1.2f * lattice_unit(seed, 3, 3);
  const float u = x / pitch + 0.3f * fractal_noise(seed, x / 9 + 50, y / 9 + 50, 2);
  const float v = y / pitch + 0.3f * fractal_noise(seed + 1, x / 9 + 50, y / 9 + 50, 2);
  const float warp = std::abs(std::sin(3.1416f * u)), weft = std::abs(std::sin(3.1416f * v));
  const bool over = (static_cast<int>(std::floor(u)) + static_cast<int>(std::floor(v))) % 2 == 0;
  const float thread = over ? warp * (0.6f + 0.4f * weft) : weft * (0.6f + 0.4f * warp);
  const float fold = fractal_noise(seed + 2, x / 60 + 50, y / 60 + 50, 2);
  return {1 + strength * (0.7f * (thread - 0.55f) + 0.25f * fold)};
}

Texture concrete(std::uint32_t seed, float x, float y, float strength) {
  const float cloud = fractal_noise(seed, x / 30 + 50, y / 30 + 50, 4, 0.6f);
  const Cell hole = nearest_cell(seed + 1, x / 7 + 50, y / 7 + 50);
  const float size = 0.02f + 0.16f * static_cast<float>(hole.hash >> 24) / 255.0f *
                                 static_cast<float>((hole.hash >> 16) & 255) / 255.0f;
  const float pore = (hole.hash & 3) == 0 ? smooth_step(size, size * 0.7f, hole.distance) : 0;
  const float sand = value_noise(seed + 2, x * 2.2f + 50, y * 2.2f + 50);
  return {1 + strength * (0.22f * cloud + 0.1f * sand) - 0.55f * pore, 0.2f * cloud};
}

Texture speckled(std::uint32_t seed, float x, float y, float strength) {
  const Cell grain = nearest_cell(seed, x / 2.4f + 50, y / 2.4f + 50);
  const Cell fine = nearest_cell(seed + 9, x / 0.9f + 50, y / 0.9f + 50);
  const float a = static_cast<float>(grain.hash >> 24) / 255.0f,
              b = static_cast<float>(fine.hash >> 24) / 255.0f;
  const float dark = a < 0.25f ? -0.6f : a > 0.8f ? 0.5f : 0.0f;
  return {
      1 + strength * (dark + 0.3f * (b - 0.5f) + 0.1f * fractal_noise(seed + 2, x / 40 + 50, y / 40 + 50, 2)),
      0.3f * (a - 0.5f)};
}

Texture painted(std::uint32_t seed, float x, float y, float strength) {
  const float cloud = fractal_noise(seed, x / 70 + 50, y / 70 + 50, 3);
  const float scratch = smooth_step(0.82f, 0.95f, fractal_noise(seed + 1, x / 60 + 50, y * 1.5f + 50, 2));
  const float dust =
      lattice_unit(seed + 2, static_cast<int>(x * 3 + 9000), static_cast<int>(y * 3 + 9000)) > 0.997f ? 0.25f
                                                                                                      : 0.0f;
  return {1 + strength * (0.07f * cloud + 0.2f * scratch + dust +
                          0.02f * value_noise(seed + 3, x * 3 + 50, y * 3 + 50))};
}

Texture texture_at(BenchModel model, std::uint32_t seed, float x, float y, float strength) {
  switch (model) {
    case BenchModel::wood:
      return wood(seed, x, y, strength);
    case BenchModel::cloth:
      return cloth(seed, x, y, strength);
    case BenchModel::concrete:
      return concrete(seed, x, y, strength);
    case BenchModel::speckled:
      return speckled(seed, x, y, strength);
    case BenchModel::print:
      return {1 + 0.02f * value_noise(seed, x * 2 + 50, y * 2 + 50)};
    default:
      return painted(seed, x, y, strength);
  }
}

struct Bounds {
  cv::Point2d low{1e9, 1e9}, high{-1e9, -1e9};
};

Bounds visible_plane(const Camera& camera) {
  Bounds bounds;
  for (const double x : {-2.0, camera.width + 1.0})
    for (const double y : {-2.0, camera.height + 1.0}) {
      const cv::Point2d mm = camera.to_mm({x, y});
      bounds.low = {std::min(bounds.low.x, mm.x), std::min(bounds.low.y, mm.y)};
      bounds.high = {std::max(bounds.high.x, mm.x), std::max(bounds.high.y, mm.y)};
    }
  return bounds;
}

void print_writing(Bench& bench, Random random) {
  const float width = static_cast<float>(bench.albedo.cols) / bench.px_per_mm,
              height = static_cast<float>(bench.albedo.rows) / bench.px_per_mm;
  const cv::Mat1b ink =
      draw_writing(width, height, bench.px_per_mm, static_cast<float>(random.uniform(2.5, 9)), random);
  for (int j = 0; j < bench.albedo.rows; ++j)
    for (int i = 0; i < bench.albedo.cols; ++i)
      bench.albedo(j, i) *= 1 - 0.9f * static_cast<float>(ink(j, i)) / 255.0f;
}

}  // namespace

Bench make_bench(const BenchStyle& style, const Camera& camera, std::uint64_t seed) {
  Random random(seed, "bench texture");
  const std::uint32_t noise_seed = random.noise_seed();
  const Bounds bounds = visible_plane(camera);
  const cv::Point2d size = bounds.high - bounds.low;
  Bench bench;
  bench.px_per_mm =
      static_cast<float>(std::min(0.9 / camera.mm_per_px(), std::sqrt(kMostTexels / (size.x * size.y))));
  bench.origin_mm = cv::Point2f(static_cast<float>(bounds.low.x), static_cast<float>(bounds.high.y));
  bench.albedo.create(static_cast<int>(size.y * bench.px_per_mm) + 2,
                      static_cast<int>(size.x * bench.px_per_mm) + 2);
  const float c = static_cast<float>(std::cos(style.turn_rad)),
              s = static_cast<float>(std::sin(style.turn_rad));
  const float Y = static_cast<float>(style.Y), strength = static_cast<float>(style.strength);
  parallel_rows(bench.albedo.rows, [&](int j) {
    for (int i = 0; i < bench.albedo.cols; ++i) {
      const float x = bench.origin_mm.x + static_cast<float>(i) / bench.px_per_mm;
      const float y = bench.origin_mm.y - static_cast<float>(j) / bench.px_per_mm;
      const Texture texture = texture_at(style.model, noise_seed, c * x + s * y, c * y - s * x, strength);
      const float level = std::clamp(Y * std::max(texture.relative, 0.15f), 0.01f, 0.88f);
      const float warmth = 0.12f * texture.warmth * strength;
      bench.albedo(j, i) =
          Rgb(style.tint[0] * (1 + warmth), style.tint[1], style.tint[2] * (1 - warmth)) * level;
    }
  });
  if (style.model == BenchModel::print) print_writing(bench, random);
  return bench;
}

Rgb bench_albedo(const Bench& bench, cv::Point2f mm) {
  return bilinear(bench.albedo,
                  (mm.x - bench.origin_mm.x) * bench.px_per_mm,
                  (bench.origin_mm.y - mm.y) * bench.px_per_mm);
}

}  // namespace scenes
