#pragma once

#include "deviations.hpp"
#include "request.hpp"

#include <opencv2/core.hpp>

#include <cstdint>
#include <string>

namespace scenes {

using Rgb = cv::Vec3f;  ///< linear, sRGB primaries

[[nodiscard]] inline float luminance(const Rgb& c) {
  return 0.2126f * c[0] + 0.7152f * c[1] + 0.0722f * c[2];
}

/// A hue at Y = 1, so that a tint never moves the luminance.
[[nodiscard]] inline Rgb unit_tint(float r, float g, float b) {
  const Rgb c(r, g, b);
  return c * (1.0f / luminance(c));
}

enum class MottleModel { clouds, cells, trowel };

struct PlasterStyle {
  double matrix_Y;
  Rgb matrix_tint, spot_tint;
  MottleModel mottle;
  double mottle_rms, mottle_mm, trowel_rad;
  double grains_per_mm2, grain_contrast, fine_rms;
  int pits;
  double pit_median_mm;
};

struct SpotStyle {
  int count;
  double median_mm, geometric_sd;
  double contrast, contrast_scatter;  ///< Weber, against the matrix in the state that is rendered
  double edge_mm, edge_scatter;
  double inner_mottle;
  double clustering;  ///< share of the spots that lie in clusters
  double touching;    ///< share that touch an earlier one by a narrow neck
  double at_rim;      ///< share that lie across the rim
  double roughness;
  double growth_mm;
  int new_spots, gone_spots;
  double changes;  ///< share of the spots whose fate is to change
  bool later;      ///< draws the state after those changes
  int twins;
};

struct RimStyle {
  double bevel_mm, bevel_gain;
  int chips;
  double chip_mm;
  double broken_deg;
};

struct WetStyle {
  bool wet;
  double glint_pct;
};

struct FaceStyle {
  double diameter_mm;
  PlasterStyle plaster;
  SpotStyle spots;
  RimStyle rim;
  WetStyle wet;
  bool mirrored, pencil;
};

struct CameraStyle {
  double focal35_mm, tilt_deg, tilt_direction, turn_rad, core_size;
  bool clip_core;
  double blur_px, electrons, read_noise;  ///< full well and read noise in electrons
  int jpeg_quality, orientation;
  bool exif;
};

enum class BenchModel { painted, wood, cloth, concrete, print, speckled };

struct BenchStyle {
  BenchModel model;
  double Y;
  Rgb tint;
  double turn_rad, strength;
};

struct LightStyle {
  double change;  ///< linear gradient over the face, (max - min) / mean
  double direction, vignette, cast, curve;
  double sun_direction, shadow_mm, shadow_strength;
  bool large_shadow;
  double large_shadow_depth;
  double white_level;  ///< share of full scale that Y = 0.9 reaches at the face's centre
};

struct ObjectsStyle {
  bool card, bar, core, second_bar, second_core;
  double card_width_mm, card_height_mm, card_reflectance, card_border_mm;
  bool patches;
  int bar_blocks;
  double block_mm, bar_height_mm, bar_dark_Y;
  bool dark_strip, end_merges, ticks, text;
  bool first_block_dark;
  int papers;  ///< labels, scraps, a ruler's worth of clutter
};

struct SceneStyle {
  std::uint64_t seed, pose_seed, light_seed, noise_seed, bench_seed;
  std::string family;
  FaceStyle face;
  CameraStyle camera;
  BenchStyle bench;
  LightStyle light;
  ObjectsStyle objects;
  Deviations deviations;
};

[[nodiscard]] SceneStyle choose_style(std::uint64_t seed,
                                      const std::string& family,
                                      const Overrides& overrides);

}  // namespace scenes
