#pragma once

#include "overview.hpp"
#include "rim_channel.hpp"
#include "rim_curve.hpp"

#include "corefleck/error.hpp"

namespace corefleck {

/// The face as the overview shows it.
struct CoarseFaceRim {
  cv::Point2d centre;  ///< overview pixels
  RimFit fit;          ///< about the centre, overview pixels
  double score;
  double uncertain_px;  ///< how far off the rim may be, overview pixels
  RimChannel channel;
};

/// Votes for circles on tone, then, where they show little of a rim, on colour and on how busy the bench is.
/// Fails with face_not_found, or face_ambiguous where two are about as good.
[[nodiscard]] Result<CoarseFaceRim> find_coarse_face(const Overview& overview);

}  // namespace corefleck
