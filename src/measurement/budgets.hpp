#pragma once

#include "corefleck/measurement.hpp"

namespace corefleck {

/// Standard uncertainty of a grey card's stated reflectance (common practice, no source).
inline constexpr double kCardReflectance_rel = 0.02;

/// Of the contrast: how far a picture's tones may be off sRGB's between matrix and spot.
[[nodiscard]] double tones_u_rel(bool camera_tones);

[[nodiscard]] UncertaintyBudget scale_budget(const CalibratedFace& face);

/// In % of the measured area.
[[nodiscard]] UncertaintyBudget area_fraction_budget(const CalibratedFace& face,
                                                     const SpotMap& map,
                                                     const FaceMeasurement& figures,
                                                     Millimetres min_spot);

/// In L*.
[[nodiscard]] UncertaintyBudget contrast_budget(const CalibratedFace& face,
                                                const SpotMap& map,
                                                const FaceMeasurement& figures);

/// Area of the spot of median size, mm2; empty budget without spots.
[[nodiscard]] UncertaintyBudget median_spot_budget(const CalibratedFace& face,
                                                   const SpotMap& map,
                                                   const FaceMeasurement& figures);

}  // namespace corefleck
