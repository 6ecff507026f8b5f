#pragma once

#include "corefleck/calibration.hpp"

#include <optional>

namespace corefleck {

/// The smooth light over the face, fitted to the matrix itself: blocks of the face, each by the level that
/// most of its pixels share, a low-order polynomial whose steps over a few blocks are theirs, in logarithms;
/// steps across the edges of stains, onto spots and pits are left out as outliers.
/// Cannot tell a slow change of light from a slow change of the plaster; `u_rel` carries that.
[[nodiscard]] LightField matrix_light(const CalibratedFace& face);

/// The same from a flat frame rectified like the face.
[[nodiscard]] LightField flat_frame_light(const CalibratedFace& face, const cv::Mat& flat_luminance);

/// Divides luminance and colour of the face by its light field, and by the light on it over that on the card.
void even_out(CalibratedFace& face);

}  // namespace corefleck
