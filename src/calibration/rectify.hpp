#pragma once

#include "corefleck/calibration.hpp"

namespace corefleck {

/// Fills grid, luminance, colour and clipped of `face` from the photo through the pose: bilinear between
/// photo pixels in linear light, tile by tile, so that the photo is never held as floats; colour is sampled
/// at half the resolution. `gains` takes each linear channel to reflectance.
void rectify(const Photo& photo,
             const Pose& pose,
             Millimetres radius,
             MmPerPx pitch,
             const std::array<double, 3>& gains,
             CalibratedFace& face);

}  // namespace corefleck
