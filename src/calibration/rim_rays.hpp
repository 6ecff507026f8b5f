#pragma once

#include "rim_channel.hpp"
#include "rim_curve.hpp"

#include "corefleck/photo.hpp"

namespace corefleck {

/// Rays of the photo itself about a centre in its pixels, each the mean of parallel lines: three one pixel
/// apart, or five of colour up to a degree's width in all. A rim is straight over that width, noise is not.
/// The photo must stay.
[[nodiscard]] RaySampler rays_of(const Photo& photo, cv::Point2d centre, const RimChannel& channel);

}  // namespace corefleck
