#pragma once

#include "corefleck/calibration.hpp"
#include "corefleck/photo.hpp"

namespace corefleck {

/// Light on the face over light on the card, from what the photo shows of it: over the face's matrix and over
/// the card, each of one unknown reflectance, luminance follows the light, so a smooth light over the frame
/// (logarithm, second order) is fitted to both together, robustly. `face.light` must be fitted already.
[[nodiscard]] CardLight light_on_card(const CalibratedFace& face, const GreyCard& card, const Photo& photo);

/// The same, read off a flat frame.
[[nodiscard]] CardLight light_on_card_in_flat_frame(const CalibratedFace& face,
                                                    const GreyCard& card,
                                                    const Photo& flat);

}  // namespace corefleck
