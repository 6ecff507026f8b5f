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
};

/// What all regions of one face share when they are outlined.
struct OutlineSetting {
  const CalibratedFace& face;
  const cv::Mat& outside;  ///< values of `Outside`, glare included
  const LocalContrast& contrast;
  int factor;           ///< pixels along a coarse cell
  double least_ecd_px;  ///< smaller ones are dropped
  bool light;           ///< spots, which are parted at their necks; else pits, in the negative
};

/// Every candidate followed again on the full grid, in a window of its own, parted at its necks and traced
/// below the pixel. In the order of the candidates.
[[nodiscard]] std::vector<Outlined> outline_all(const OutlineSetting& setting, const CoarseSpots& found);

}  // namespace corefleck
