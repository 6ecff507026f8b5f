#include "noise.hpp"

namespace scenes {

float value_noise(std::uint32_t seed, float x, float y) {
  const float fx = std::floor(x), fy = std::floor(y);
  const int i = static_cast<int>(fx), j = static_cast<int>(fy);
  float a = x - fx, b = y - fy;
  a = a * a * (3 - 2 * a);
  b = b * b * (3 - 2 * b);
  const float upper = lattice_unit(seed, i, j) * (1 - a) + lattice_unit(seed, i + 1, j) * a;
  const float lower = lattice_unit(seed, i, j + 1) * (1 - a) + lattice_unit(seed, i + 1, j + 1) * a;
  return 2 * (upper * (1 - b) + lower * b) - 1;
}

float fractal_noise(std::uint32_t seed, float x, float y, int octaves, float gain) {
  float sum = 0, amplitude = 1, total = 0;
  for (int octave = 0; octave < octaves; ++octave) {
    sum += amplitude * value_noise(seed + static_cast<std::uint32_t>(octave) * 7919u, x, y);
    total += amplitude;
    amplitude *= gain;
    // The turn keeps the lattices of the octaves from lining up, which shows as a grid.
    const float turned = 1.6f * x - 1.2f * y;
    y = 1.2f * x + 1.6f * y;
    x = turned;
  }
  return sum / total;
}

Cell nearest_cell(std::uint32_t seed, float x, float y) {
  const int i = static_cast<int>(std::floor(x)), j = static_cast<int>(std::floor(y));
  Cell best{9.0f, 0};
  for (int row = j - 1; row <= j + 1; ++row) {
    for (int column = i - 1; column <= i + 1; ++column) {
      const std::uint32_t hash = lattice_hash(seed, column, row);
      const float dx = static_cast<float>(column) + static_cast<float>(hash & 0xffff) / 65536.0f - x;
      const float dy = static_cast<float>(row) + static_cast<float>(hash >> 16) / 65536.0f - y;
      const float distance = dx * dx + dy * dy;
      if (distance < best.distance) best = {distance, lattice_hash(seed ^ 0x5bd1e995u, column, row)};
    }
  }
  best.distance = std::sqrt(best.distance);
  return best;
}

}  // namespace scenes
