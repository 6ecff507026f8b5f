#pragma once

#include "overview.hpp"
#include "rim_curve.hpp"

namespace corefleck {

enum class ByColour { unknown, agrees, elsewhere };

inline constexpr int kRays = 720;  ///< about the face, in the photo
inline constexpr int kRaysByColour = kRays / 2;

/// Shadow beyond the rim, a worn edge inside it and the core's side wall change lightness; the colour changes
/// where the plaster ends. Colour is stored more coarsely, so it only decides where the two differ clearly:
/// then `fit` is the rim by colour, on kRaysByColour rays.
///   like  the search that found `fit`; photo pixels about `centre`
[[nodiscard]] ByColour check_by_colour(
    const Photo& photo, const Overview& overview, cv::Point2d centre, const RimSearch& like, RimFit& fit);

}  // namespace corefleck
