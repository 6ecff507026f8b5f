#pragma once

#include "corefleck/measurement.hpp"

namespace corefleck {

[[nodiscard]] UncertaintyBudget scale_budget(const CalibratedFace& face);

/// In % of the measured area.
[[nodiscard]] UncertaintyBudget area_fraction_budget(const CalibratedFace& face,
                                                     const SpotMap& map,
                                                     const FaceMeasurement& figures,
                                                     Millimetres min_spot);

/// In L*.
[[nodiscard]] UncertaintyBudget contrast_budget(const CalibratedFace& face,
                                                const SpotMap& map,
                                                const FaceMeasurement& figures,
                                                bool camera_tones);

/// Area of the spot of median size, mm2; empty budget without spots.
[[nodiscard]] UncertaintyBudget median_spot_budget(const CalibratedFace& face,
                                                   const SpotMap& map,
                                                   const FaceMeasurement& figures);

}  // namespace corefleck
