#pragma once

#include <opencv2/core.hpp>

#include <cmath>
#include <cstdint>

namespace scenes {

/// 32-bit hash of a lattice point: the only source of texture, so that a texture depends on place and seed
/// alone.
[[nodiscard]] inline std::uint32_t lattice_hash(std::uint32_t seed, int column, int row) {
  std::uint32_t h =
      static_cast<std::uint32_t>(column) * 0x9e3779b1u ^ static_cast<std::uint32_t>(row) * 0x85ebca77u;
  h ^= seed * 0xc2b2ae3du + 0x27d4eb2fu;
  h = (h ^ (h >> 15)) * 0x2c1b3c6du;
  h = (h ^ (h >> 12)) * 0x297a2d39u;
  return h ^ (h >> 15);
}

[[nodiscard]] inline float lattice_unit(std::uint32_t seed, int column, int row) {
  return static_cast<float>(lattice_hash(seed, column, row) >> 8) * 0x1.0p-24f;
}

/// Smoothly interpolated lattice values, -1 to 1, correlated over about one unit.
[[nodiscard]] float value_noise(std::uint32_t seed, float x, float y);

/// Sum of octaves, each twice as fine and `gain` as strong; about -1 to 1.
[[nodiscard]] float fractal_noise(std::uint32_t seed, float x, float y, int octaves, float gain = 0.5f);

/// Distance to the nearest of one random point per lattice cell, and that cell's hash.
struct Cell {
  float distance;
  std::uint32_t hash;
};
[[nodiscard]] Cell nearest_cell(std::uint32_t seed, float x, float y);

/// 0 below `low`, 1 above `high`, smooth between.
[[nodiscard]] inline float smooth_step(float low, float high, float value) {
  const float t = std::fmin(std::fmax((value - low) / (high - low), 0.0f), 1.0f);
  return t * t * (3.0f - 2.0f * t);
}

[[nodiscard]] inline float clamp_unit(float value) { return std::fmin(std::fmax(value, 0.0f), 1.0f); }

/// Bilinear reading; places outside read the nearest edge.
template <class Pixel>
[[nodiscard]] inline Pixel bilinear(const cv::Mat_<Pixel>& image, float column, float row) {
  const float c = std::fmin(std::fmax(column, 0.0f), static_cast<float>(image.cols - 1) - 1e-3f);
  const float r = std::fmin(std::fmax(row, 0.0f), static_cast<float>(image.rows - 1) - 1e-3f);
  const int i = static_cast<int>(c), j = static_cast<int>(r);
  const float a = c - static_cast<float>(i), b = r - static_cast<float>(j);
  const Pixel* upper = image[j] + i;
  const Pixel* lower = image[j + 1] + i;
  return (upper[0] * (1 - a) + upper[1] * a) * (1 - b) + (lower[0] * (1 - a) + lower[1] * a) * b;
}

}  // namespace scenes
