#include "spot_shapes.hpp"

#include "noise.hpp"

#include <opencv2/imgproc.hpp>

#include <array>
#include <cmath>
#include <functional>
#include <numbers>
#include <vector>

namespace scenes {
namespace {

using Field = std::function<float(float x, float y)>;  // units of the radius; zero on the outline

Field wavy_disc(Random& random, double roughness) {
  constexpr int kWaves = 7;
  std::array<float, kWaves> size{}, phase{};
  for (int k = 0; k < kWaves; ++k) {
    size[static_cast<std::size_t>(k)] =
        static_cast<float>(roughness * 0.22 * random.normal() / std::pow(k + 2, 1.15));
    phase[static_cast<std::size_t>(k)] = static_cast<float>(random.uniform(0, 2 * std::numbers::pi));
  }
  constexpr int kDirections = 1024;  // a table once, not seven cosines a texel
  std::vector<float> radii(kDirections + 2, 1.0f);
  for (int direction = 0; direction < kDirections + 2; ++direction) {
    const float angle = (static_cast<float>(direction) / kDirections * 2 - 1) * std::numbers::pi_v<float>;
    for (int k = 0; k < kWaves; ++k) {
      const auto index = static_cast<std::size_t>(k);
      radii[static_cast<std::size_t>(direction)] +=
          size[index] * std::cos(static_cast<float>(k + 2) * angle + phase[index]);
    }
  }
  return [radii = std::move(radii)](float x, float y) {
    const float at = (std::atan2(y, x) / std::numbers::pi_v<float> + 1) * 0.5f * kDirections;
    const auto index = static_cast<std::size_t>(at);
    const float part = at - static_cast<float>(index);
    return radii[index] * (1 - part) + radii[index + 1] * part - std::sqrt(x * x + y * y);
  };
}

Field noisy_blob(Random& random, double roughness) {
  const std::uint32_t seed = random.noise_seed();
  const float depth = static_cast<float>(0.6 * roughness);
  const float fineness = static_cast<float>(random.uniform(0.8, 1.6));
  return [=](float x, float y) {
    return 1 - std::sqrt(x * x + y * y) +
           depth * fractal_noise(seed, x * fineness + 40, y * fineness + 40, 4, 0.45f);
  };
}

// Each further disc sits well inside an earlier one, so that every neck is wide: one spot.
Field merged_discs(Random& random, double roughness) {
  struct Disc {
    float x, y, r;
  };
  std::vector<Disc> discs{{0, 0, 0.75f}};
  const int more = random.integer(1, 4);
  for (int index = 0; index < more; ++index) {
    const Disc base = discs[static_cast<std::size_t>(random.integer(0, static_cast<int>(discs.size()) - 1))];
    const float r = static_cast<float>(random.uniform(0.4, 0.7));
    const double angle = random.uniform(0, 2 * std::numbers::pi);
    const double reach = std::max(base.r, r) * random.uniform(0.5, 0.85);
    discs.push_back({base.x + static_cast<float>(reach * std::cos(angle)),
                     base.y + static_cast<float>(reach * std::sin(angle)),
                     r});
  }
  const std::uint32_t seed = random.noise_seed();
  const float wobble = static_cast<float>(0.12 * roughness);
  return [=](float x, float y) {
    float best = -9;
    for (const Disc& disc : discs) best = std::max(best, disc.r - std::hypot(x - disc.x, y - disc.y));
    return best + wobble * fractal_noise(seed, x * 2 + 40, y * 2 + 40, 2);
  };
}

Field any_outline(Random& random, double roughness) {
  switch (random.integer(0, 2)) {
    case 0:
      return wavy_disc(random, roughness);
    case 1:
      return noisy_blob(random, roughness);
    default:
      return merged_discs(random, roughness);
  }
}

bool is_one_piece(const cv::Mat1f& field) {
  cv::Mat labels;
  const cv::Mat inside = field > 0, outside = field <= 0;
  return cv::connectedComponents(inside, labels, 4) == 2 && cv::connectedComponents(outside, labels, 4) == 2;
}

cv::Mat1f refined(const cv::Mat1f& coarse, int step) {
  if (step == 1) return coarse;
  cv::Mat1f fine((coarse.rows - 1) * step + 1, (coarse.cols - 1) * step + 1);
  const float ratio = 1.0f / static_cast<float>(step);
  for (int j = 0; j < fine.rows; ++j)
    for (int i = 0; i < fine.cols; ++i)
      fine(j, i) = bilinear(coarse, static_cast<float>(i) * ratio, static_cast<float>(j) * ratio);
  return fine;
}

// A field over its own slope is, near its zero line, the distance to that line: this makes flanks equally
// wide.
cv::Mat1f as_distance(const cv::Mat1f& field, float texel_mm) {
  cv::Mat1f distance(field.size());
  for (int j = 0; j < field.rows; ++j) {
    const int up = std::max(j - 1, 0), down = std::min(j + 1, field.rows - 1);
    for (int i = 0; i < field.cols; ++i) {
      const int left = std::max(i - 1, 0), right = std::min(i + 1, field.cols - 1);
      const float dx = (field(j, right) - field(j, left)) / (static_cast<float>(right - left) * texel_mm);
      const float dy = (field(down, i) - field(up, i)) / (static_cast<float>(down - up) * texel_mm);
      distance(j, i) = field(j, i) / std::max(std::sqrt(dx * dx + dy * dy), 0.5f);
    }
  }
  return distance;
}

}  // namespace

SpotShape draw_spot_shape(
    Random& random, double ecd_mm, double roughness, double margin_mm, double px_per_mm) {
  const double radius = ecd_mm / 2;
  const double stretch = random.uniform(1.0, 1.18), angle = random.uniform(0, std::numbers::pi);
  const float c = static_cast<float>(std::cos(angle)), s = static_cast<float>(std::sin(angle));
  const float texel_mm = static_cast<float>(1 / px_per_mm);
  SpotShape shape;
  // Outlines of large spots are smooth on the scale of a few texels; a coarse field costs a fraction.
  const int step = ecd_mm > 6 ? 4 : ecd_mm > 2 ? 2 : 1;
  const int reach = static_cast<int>(std::ceil((radius * 1.9 + margin_mm) * px_per_mm)) + 2;
  shape.half = (reach + step - 1) / step * step;
  cv::Mat1f coarse(2 * shape.half / step + 1, 2 * shape.half / step + 1);
  for (int attempt = 0; attempt < 4; ++attempt) {
    const Field outline = any_outline(random, roughness);
    for (int j = 0; j < coarse.rows; ++j) {
      for (int i = 0; i < coarse.cols; ++i) {
        const float x = static_cast<float>(i * step - shape.half) * texel_mm / static_cast<float>(radius);
        const float y = static_cast<float>(j * step - shape.half) * texel_mm / static_cast<float>(radius);
        const float u = (c * x + s * y) / static_cast<float>(stretch);
        const float v = (c * y - s * x) * static_cast<float>(stretch);
        coarse(j, i) = static_cast<float>(radius) * outline(u, v);
      }
    }
    if (is_one_piece(coarse)) break;
    roughness *= attempt == 2 ? 0.0 : 0.6;
  }
  shape.inside_mm = as_distance(refined(coarse, step), texel_mm);
  return shape;
}

SpotShape twin_shape(const Twins& twins, double margin_mm, double px_per_mm) {
  const double r1 = twins.first_ecd_mm / 2, r2 = twins.second_ecd_mm / 2, apart = r1 + r2 + twins.gap_mm;
  const double c = std::cos(twins.angle_rad), s = std::sin(twins.angle_rad);
  const double bridge = 0.95 * std::min(r1, r2);
  SpotShape shape;
  shape.half = static_cast<int>(std::ceil((apart / 2 + std::max(r1, r2) + margin_mm) * px_per_mm)) + 2;
  shape.inside_mm.create(2 * shape.half + 1, 2 * shape.half + 1);
  if (!twins.joined) shape.second.create(shape.inside_mm.size());
  for (int j = 0; j < shape.inside_mm.rows; ++j) {
    for (int i = 0; i < shape.inside_mm.cols; ++i) {
      const double x = (i - shape.half) / px_per_mm, y = (j - shape.half) / px_per_mm;
      const double along = c * x + s * y, across = c * y - s * x;
      const double first = r1 - std::hypot(along + apart / 2, across);
      const double second = r2 - std::hypot(along - apart / 2, across);
      double inside = std::max(first, second);
      if (twins.joined) {
        const double beyond = std::max(std::abs(along) - apart / 2, 0.0);
        inside = std::max(inside, bridge - std::hypot(beyond, across));
      } else {
        shape.second(j, i) = second > first;
      }
      shape.inside_mm(j, i) = static_cast<float>(inside);
    }
  }
  return shape;
}

}  // namespace scenes
