#pragma once

#include "candidates.hpp"
#include "local_contrast.hpp"

#include "corefleck/segmentation.hpp"

#include <vector>

namespace corefleck {

/// A region and the pixels that it labels, CV_8UC1 over `region.box`.
struct Outlined {
  Region region;
  cv::Mat mask;
  double unevenness;  ///< scatter of its plateau over its height
  double whole_form;  ///< form factor of the light region that it is, or is a part of
};

/// What all regions of one face share when they are outlined.
struct OutlineSetting {
  const CalibratedFace& face;
  const cv::Mat& outside;  ///< values of `Outside`, glare included
  const LocalContrast& contrast;
  int factor;           ///< pixels along a coarse cell
  double least_ecd_px;  ///< smaller ones are dropped
  double blur_px;       ///< Gaussian width of the photo's blur, as far as it is known yet
  bool light;           ///< spots, which are parted at their necks; else pits, in the negative
};

struct OutlinedFace {
  std::vector<Outlined> regions;  ///< in the order of the candidates
  double blur_px;                 ///< the blur told, or less where the regions' flanks show less
};

/// 4 pi area over the square of the perimeter (ISO 9276-6): 1 of a disc, less the more ragged.
[[nodiscard]] double form_factor(double area_px, const Contour& outline);

/// Every candidate followed again on the full grid, in a window of its own, parted at its necks and traced
/// below the pixel.
[[nodiscard]] OutlinedFace outline_all(const OutlineSetting& setting, const CoarseSpots& found);

}  // namespace corefleck
