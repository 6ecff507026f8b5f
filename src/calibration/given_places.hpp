#pragma once

#include "corefleck/calibration.hpp"

namespace corefleck {

/// Whether every place that was given by hand lies in the photo; else the message names the one that does
/// not. A finder that starts outside the photo finds nothing, and would say that something else is amiss.
[[nodiscard]] Result<void> given_places_lie_in(const Photo& photo, const CalibrationSettings& settings);

}  // namespace corefleck
