#pragma once

#include <vector>

namespace corefleck {

/// Gaussian width of the flank at an outline, in pixels: the spot's own softness and the photo's blur
/// together.
///   height  of the plateau over the ground
///   slope   mean of it per pixel beside the outline, as slope_at_edge gives it on LocalContrast::fine
[[nodiscard]] double flank_sigma_px(double height, double slope);

/// The blur on the face: that of the scale bar's edges, unless the spots' flanks are narrower. A print may be
/// soft or lie out of focus, but no flank is sharper than the photo; that the sharper ones differ among
/// themselves is the noise of their slopes, so not the very sharpest tells.
[[nodiscard]] double blur_on_face_px(double blur_of_bar_px, std::vector<double> flanks_px);

}  // namespace corefleck
