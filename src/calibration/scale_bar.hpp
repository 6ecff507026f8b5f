#pragma once

#include "overview.hpp"

#include "corefleck/calibration.hpp"

#include <vector>

namespace corefleck {

/// A block edge on both sides of the axis, photo pixels.
struct EdgeSection {
  cv::Point2d low, high;
};

/// The bar with each block edge located along its axis; `points` are the edges that are used, photo pixels.
struct FoundBar {
  ScaleBar bar;
  std::vector<cv::Point2d> points;  ///< same order as the used ones of bar.edges
  std::vector<int> indices;
  std::vector<EdgeSection> sections;  ///< tell which way the edges run; empty where that is not known
};

/// Rows of blocks that may be the bar, most likely first; never empty. Fails with scale_bar_not_found. `face`
/// is left out of the search.
[[nodiscard]] Result<std::vector<FoundBar>> find_scale_bars(const Photo& photo,
                                                            const Overview& overview,
                                                            const FaceEllipse& face,
                                                            const CalibrationSettings& settings);

/// Places in `bars` of those that are about as likely as this one and on another ruler.
[[nodiscard]] std::vector<std::size_t> rivals_of(const std::vector<FoundBar>& bars,
                                                 std::size_t bar,
                                                 const Overview& overview,
                                                 int blocks);

/// The failure that says where both lie.
[[nodiscard]] MeasureError two_bars(const FoundBar& a, const FoundBar& b);

/// How equally a bar's edges are spaced: `doubtful` is more than a clean bar's edges scatter, `uneven` more
/// than the edges of equal blocks can.
enum class BarSpacing { even, doubtful, uneven };

/// `scatter_px`: standard deviation of the used edges about equal spacing, photo pixels.
[[nodiscard]] BarSpacing bar_spacing(const ScaleBar& bar, double scatter_px, int blocks);

/// The failure that says where such a bar lies.
[[nodiscard]] MeasureError uneven_blocks(const ScaleBar& bar);

}  // namespace corefleck
