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

/// How equally a bar's edges are spaced: `doubtful` is more than a clean bar's edges scatter, `uneven` more
/// than the edges of equal blocks can.
enum class BarSpacing { even, doubtful, uneven };

/// `scatter_px`: standard deviation of the used edges about equal spacing, photo pixels.
[[nodiscard]] BarSpacing bar_spacing(const ScaleBar& bar, double scatter_px, int blocks);

/// The failure that says where such a bar lies.
[[nodiscard]] MeasureError uneven_blocks(const ScaleBar& bar);

}  // namespace corefleck
