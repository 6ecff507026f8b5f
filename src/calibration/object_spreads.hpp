#pragma once

#include "pose_evidence.hpp"
#include "pose_solver.hpp"

namespace corefleck {

/// The prior deviations say what cores, cards and bars are in general; how these ones agree with a plane seen
/// from one place says how good they are. Variance components with knowledge worth a few residuals
/// ([Dempster1977]), in turn with the fit; both come back settled.
void settle_spreads(PoseSolution& solution, PoseEvidence& evidence);

}  // namespace corefleck
