#pragma once

#include "corefleck/comparison.hpp"

#include <optional>
#include <vector>

namespace corefleck {

/// How much of a change that the outlines claim the light shows: 1 where the spots' contrast came or went
/// wherever the outlines moved, 0 where the light is the same in both photos and only the outlines differ.
/// Both photos are seen as blurred as each other, so that neither sharpness nor pixels count; what the
/// photos' levels and contrasts differ in is fitted. The outlines are taken as large as the areas reported.
/// Nothing where the place is not measured, an outline was drawn by hand, or the outlines agree.
[[nodiscard]] std::optional<double> change_shown_by_light(const FaceToCompare& before,
                                                          const std::vector<int>& before_ids,
                                                          const FaceToCompare& after,
                                                          const std::vector<int>& after_ids,
                                                          const FaceTransform& before_to_after);

}  // namespace corefleck
