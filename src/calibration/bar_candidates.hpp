#pragma once

#include "overview.hpp"

#include <opencv2/core.hpp>

#include <vector>

namespace corefleck {

/// A row of parallel, equally spaced edges of alternating polarity, overview pixels.
struct BarCandidate {
  cv::Point2d first, last;  ///< middles of the first and last edge found
  int edges;                ///< number of pitches between them plus one
  int seen;                 ///< edges that were there, the others were bridged
  double height;            ///< median length of the edges
};

/// What a bar may look like on the overview.
struct BarKind {
  int blocks;
  double least_pitch_px, most_pitch_px;
};

/// Rows that may be a scale bar of this kind, most complete first. `hidden` (CV_8UC1, overview size) is left
/// out.
[[nodiscard]] std::vector<BarCandidate> bar_candidates(const Overview& overview,
                                                       const cv::Mat& hidden,
                                                       const BarKind& kind);

}  // namespace corefleck
