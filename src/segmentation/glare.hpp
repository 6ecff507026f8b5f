#pragma once

#include "local_contrast.hpp"

#include "corefleck/segmentation.hpp"

namespace corefleck {

struct Glare {
  cv::Mat mask;  ///< CV_8UC1, 255 under glare, blur included; empty where there is none
  std::vector<Contour> outlines;
  double clipped_elsewhere_pct;  ///< share of the face that clips without being glare
};

/// Specular reflections: brighter than any diffuse surface can be, or clipping, grown down their flanks; and
/// on a face that is said to be wet, swarms of points of light among them.
[[nodiscard]] Glare find_glare(const CalibratedFace& face,
                               const LocalContrast& contrast,
                               const SegmentationSettings& settings);

}  // namespace corefleck
