#pragma once

#include "corefleck/registration.hpp"

#include <vector>

namespace corefleck {

/// A turn and shift at which the two faces' coarse detail agrees.
struct TurnCandidate {
  FaceTransform first_to_second;  ///< rigid, to about 0.3 degrees and 0.3 mm
  double correlation;             ///< of the coarse detail that both photos show, -1 to 1
};

/// The best turns, best first, each at least some degrees from the others. `centre_mm`: where on the second
/// face the first face's centre is thought to lie, to within a millimetre.
[[nodiscard]] std::vector<TurnCandidate> turn_candidates(const FaceDetail& first,
                                                         const FaceDetail& second,
                                                         const cv::Point2d& centre_mm);

}  // namespace corefleck
