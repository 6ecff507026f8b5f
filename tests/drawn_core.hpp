#pragma once

#include "corefleck/comparison.hpp"

#include <opencv2/core.hpp>

#include <cstdint>
#include <memory>
#include <vector>

namespace corefleck::testing {

/// A round spot on a drawn face, mm.
struct DrawnSpot {
  double x, y, diameter;
};

/// A face drawn straight onto its rectified grid, without photo or calibration: matrix of Y 0.2 with grains
/// by chance of `grain_seed`, spots of Y 0.5, turned counterclockwise by `turn_deg` and moved.
struct DrawnCore {
  std::uint64_t grain_seed = 1;
  double turn_deg = 0.0;
  cv::Point2d moved_mm{0.0, 0.0};
  double pitch_mm = 0.1;
  double radius_mm = 30.0;
  double grain = 0.08;  ///< relative; 0: nothing to recognise but the spots
  bool mirrored = false;
  double broken_deg = 0.0;  ///< this much of the rim is a chip, 5 mm deep
  bool wet = false;         ///< matrix at 0.55, spots at 0.8 of their light
  std::vector<DrawnSpot> spots{};
  std::vector<DrawnSpot> faint{};  ///< light places that the map does not list
};

/// Face, map and figures of one drawn core, as measuring it would give them; areas and their uncertainty are
/// those of the drawn discs.
struct DrawnPhoto {
  CalibratedFace face;
  SpotMap map;
  FaceMeasurement figures;
  [[nodiscard]] FaceToCompare to_compare() const { return {face, map, figures}; }
};

[[nodiscard]] std::unique_ptr<DrawnPhoto> drawn_core(const DrawnCore& wish);

/// The true map between two drawn cores.
[[nodiscard]] FaceTransform true_transform(const DrawnCore& first, const DrawnCore& second);

/// A registration that holds the true map.
[[nodiscard]] Registration true_registration(const DrawnCore& first, const DrawnCore& second);

}  // namespace corefleck::testing
