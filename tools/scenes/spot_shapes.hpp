#pragma once

#include "random.hpp"

#include <opencv2/core.hpp>

namespace scenes {

/// An outline as a field over texels, centred on the field's middle: distance to the outline in mm, positive
/// inside (exact near the outline, only monotone far from it).
struct SpotShape {
  cv::Mat1f inside_mm;
  cv::Mat1b second;  ///< of twins: 1 where the second of the two is nearer; else empty
  int half = 0;
};

/// One connected outline without holes, of about the wanted equivalent diameter; `margin_mm` of room around
/// it.
[[nodiscard]] SpotShape draw_spot_shape(
    Random& random, double ecd_mm, double roughness, double margin_mm, double px_per_mm);

/// Two discs side by side, `gap_mm` of plain matrix between them, or joined by a bridge nearly as broad as
/// the smaller.
struct Twins {
  double first_ecd_mm, second_ecd_mm, gap_mm, angle_rad;
  bool joined;
};
[[nodiscard]] SpotShape twin_shape(const Twins& twins, double margin_mm, double px_per_mm);

}  // namespace scenes
