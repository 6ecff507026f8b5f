#pragma once

#include "rigid_fit.hpp"

#include <vector>

namespace corefleck {

/// How well a transform stands once it was fitted to the face's parts.
struct PartFit {
  FaceTransform first_to_second;
  int parts = 0;                    ///< that both photos show
  std::vector<PlacePair> agreeing;  ///< those that lie where the fit puts them
  [[nodiscard]] double score() const {
    return parts > 0 ? static_cast<double>(agreeing.size()) / parts : 0.0;
  }
};

enum class FitPurpose {
  recognise,  ///< rigid, then affine: is it the same face at all?
  place       ///< projective: `start` is right to a fraction of a millimetre, and the face is the same
};

/// Looks for each part of the first face near where `start` puts it on the second, fits, looks again.
/// `rounds` of it.
[[nodiscard]] PartFit fit_parts(const FaceDetail& first,
                                const FaceDetail& second,
                                const FaceTransform& start,
                                int rounds,
                                FitPurpose purpose);

}  // namespace corefleck
