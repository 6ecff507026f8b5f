#pragma once

#include "deviations.hpp"
#include "style.hpp"

#include <opencv2/core.hpp>

#include <cstdint>
#include <vector>

namespace scenes {

inline constexpr std::uint16_t kPitLabel = 65001, kGlintLabel = 65002, kChipLabel = 65003,
                               kOutsideLabel = 65535;
inline constexpr double kFacePxPerMm = 32.0;  ///< texels of the face; the mask is written as fine
inline constexpr double kRimBandMm = 1.0;     ///< TRUTH.md leaves this band out of the area fraction

struct Spot {
  int id;
  double x_mm, y_mm, area_mm2, mean_Y, edge_mm;
};

/// What becomes of a spot by the later state.
enum class Fate { steady, grown, shrunk, gone, fresh, joining, parting };

struct SpotFate {
  int id;
  Fate fate;
};

struct Patch {
  double x_mm, y_mm, area_mm2;
};

/// The invented face in its own coordinates (before it is turned on the bench); y up.
struct Face {
  Rim rim;
  double radius_mm;      ///< of the nominal circle
  float origin;          ///< column and row of the centre
  cv::Mat_<Rgb> albedo;  ///< continued past the rim, so that no bench colour bleeds in
  cv::Mat1w labels;      ///< as in the mask, without glints
  cv::Mat1f glint;       ///< 0 to 1
  std::vector<Spot> spots;
  std::vector<SpotFate> fates;  ///< of every spot of either state; of twins, the first one's
  std::vector<Patch> pits, glints;
  double matrix_Y, area_fraction_pct;
};

[[nodiscard]] Face make_face(const FaceStyle& style,
                             const std::vector<RimHarmonic>& rim,
                             std::uint64_t seed,
                             std::uint64_t light_seed);

}  // namespace scenes
