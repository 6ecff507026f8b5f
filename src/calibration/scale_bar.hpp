#pragma once

#include "overview.hpp"

#include "corefleck/calibration.hpp"

#include <vector>

namespace corefleck {

/// The bar with each block edge located along its axis; `points` are the edges that are used, photo pixels.
struct FoundBar {
  ScaleBar bar;
  std::vector<cv::Point2d> points;  ///< same order as the used ones of bar.edges
  std::vector<int> indices;
};

/// Fails with scale_bar_not_found or scale_bar_ambiguous. `face` is left out of the search.
[[nodiscard]] Result<FoundBar> find_scale_bar(const Photo& photo,
                                              const Overview& overview,
                                              const FaceEllipse& face,
                                              const CalibrationSettings& settings);

}  // namespace corefleck
