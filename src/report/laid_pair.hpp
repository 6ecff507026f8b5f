#pragma once

#include "corefleck/registration.hpp"
#include "corefleck/report.hpp"

namespace corefleck {

/// Two photos of one core, and the second one as it lies on the first: all in the first face's grid.
struct LaidPair {
  const MeasuredFace& first;
  const MeasuredFace& second;
  CalibratedFace second_face;  ///< grid, colour and what drawing asks for
  SpotMap second_map;          ///< spots, pits, glare and excluded areas
};
[[nodiscard]] LaidPair laid_pair(const MeasuredFace& first,
                                 const MeasuredFace& second,
                                 const FaceTransform& first_to_second);

/// What either photo leaves out, as a map that holds nothing else.
[[nodiscard]] SpotMap not_compared(const LaidPair& pair);

/// Factors on linear light at which the two faces are shown.
struct PairExposure {
  double first, second;
};
/// Each face as light as is best to see.
[[nodiscard]] PairExposure own_exposures(const LaidPair& pair);
/// One factor for both, so that they are as light against each other as the face is, and none clips; own ones
/// where a photo has no grey card to place them by.
[[nodiscard]] PairExposure common_exposure(const LaidPair& pair);

}  // namespace corefleck
