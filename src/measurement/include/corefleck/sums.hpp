#pragma once

#include "corefleck/segmentation.hpp"

namespace corefleck {

// What the sums of a face's figures take as given. The report's page, which does the same sums when a person
// corrects spots, gets these numbers from the program, so that no copy of them can go astray.

/// Share of a boundary's error that all spots of a photo have in common: the same blur, the same rule of half
/// contrast.
inline constexpr double kSharedBoundary = 0.7;
/// Standard deviation of the share of spots at the rim that are chips of it.
inline constexpr double kRimIsChip = 0.25;
/// Likewise of the spots that may be reflections: each is one or is none, and nothing tells.
inline constexpr double kRaggedIsReflection = 0.5;
/// A spot up to so many times the smallest size reported may fall on either side of it ...
inline constexpr double kNearSizeLimit = 1.15;
/// ... and counts in the area's doubt by this share of its own.
inline constexpr double kDoubtAtSizeLimit = 0.5;
/// Of a relative error of the light, the share that half contrast passes on to a spot's area.
inline constexpr double kLightInArea = 0.1;
/// So many spots of a photo share what light and plaster do to them.
inline constexpr double kSpotsOfOneLight = 4.0;
/// Relative standard uncertainty of the light that is given back to a spot for what blur carried over its
/// outline.
inline constexpr double kDoubtOfGivingBack = 0.25;
/// Of a relative error of the spots' area, the share that passes on to their mean contrast.
inline constexpr double kBoundaryInContrast = 0.5;
/// Pixels away from spots that tell the matrix; with fewer, those beside spots tell it, too.
inline constexpr int kLeastMatrixPixels = 100;
/// How far from spots, pits and glare the matrix begins, in pixels of `CalibratedFace::colour`.
[[nodiscard]] int matrix_distance_px(const CalibratedFace& face, const SpotMap& spots);

}  // namespace corefleck
