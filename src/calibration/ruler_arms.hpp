#pragma once

#include "overview.hpp"

#include "corefleck/calibration.hpp"

namespace corefleck {

/// Whether two rows of blocks lie on one ruler: beside each other, or on the arms of an L. They tell the same
/// scale then, and no question arises between them.
[[nodiscard]] bool on_one_ruler(const Overview& overview, const ScaleBar& a, const ScaleBar& b, int blocks);

}  // namespace corefleck
