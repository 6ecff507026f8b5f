#pragma once

#include "corefleck/measurement.hpp"

namespace corefleck {

/// Classes in a geometric progression that has a limit at 1 mm, from the class of the smallest spot to that
/// of the largest.
[[nodiscard]] std::vector<SizeClass> size_classes(const std::vector<SpotFigures>& spots,
                                                  SizeClasses progression);

}  // namespace corefleck
