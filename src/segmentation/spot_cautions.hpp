#pragma once

#include "corefleck/segmentation.hpp"

namespace corefleck {

/// Regions that were left out as hardly lighter than the mottle.
struct Faint {
  int number;
  double area_px;
};

/// What a reader must know of a finished map: faint regions, glare, reflections, the rim, clipping, blur.
void add_cautions(SpotMap& map,
                  const CalibratedFace& face,
                  const SegmentationSettings& settings,
                  const Faint& faint,
                  double clipped_elsewhere_pct);

}  // namespace corefleck
