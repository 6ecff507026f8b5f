#pragma once

#include "corefleck/comparison.hpp"

#include <optional>
#include <vector>

namespace corefleck {

/// Between two spots of one photo that are one in the other: how much lighter the other photo shows the place
/// between them, in parts of the spots' own contrast, both photos seen as blurred as each other. 0 where only
/// the outlines part what is there alike in both, 1 where plain matrix became spot. Of several spots the
/// place that became lightest. Nothing where a photo does not measure any of the places.
///   ids  two or more spots of `parted`;  id  the one spot of `joined`
[[nodiscard]] std::optional<double> filled_between(const FaceToCompare& parted,
                                                   const std::vector<int>& ids,
                                                   const FaceToCompare& joined,
                                                   int id,
                                                   const FaceTransform& parted_to_joined);

}  // namespace corefleck
