#pragma once

#include "corefleck/calibration.hpp"

namespace corefleck {

/// A point through a homography.
[[nodiscard]] cv::Point2d project(const cv::Matx33d& homography, double x, double y);

/// Fills grid, luminance, colour and clipped of `face` from the photo through the pose: bilinear between
/// photo pixels in linear light, tile by tile, so that the photo is never held as floats; colour is sampled
/// at half the resolution. `gains` takes each linear channel to reflectance.
void rectify(const Photo& photo,
             const cv::Matx33d& mm_to_px,
             Millimetres radius,
             MmPerPx pitch,
             const std::array<double, 3>& gains,
             CalibratedFace& face);

}  // namespace corefleck
