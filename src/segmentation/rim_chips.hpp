#pragma once

#include "usual_looks.hpp"

namespace corefleck {

/// Takes light regions at the rim band that are chips or a fracture out of the spots, and marks them in
/// `map.outside`. Much of it: rim_incomplete.
void leave_out_chips(std::vector<Outlined>& spots,
                     const UsualLooks& usual,
                     const CalibratedFace& face,
                     SpotMap& map);

}  // namespace corefleck
