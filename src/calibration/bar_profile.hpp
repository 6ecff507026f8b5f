#pragma once

#include "scale_bar.hpp"
#include "strip_light.hpp"

#include <opencv2/core.hpp>

#include <optional>

namespace corefleck {

/// Where to look for block edges: an axis with a guess of the pitch, pixels of the image that is looked at.
struct BarGuess {
  cv::Point2d first;      ///< an edge
  cv::Point2d direction;  ///< unit
  double pitch;
  int edges;  ///< from `first` on that are expected
  double height;
  bool ends_known;  ///< the first and last expected edge are the bar's ends: given by hand
};

/// Edges of a block pattern located by their 50 % crossings, in the pixels of `light`; empty when there is no
/// such pattern at that place.
[[nodiscard]] std::optional<FoundBar> locate_bar(const StripLight& light, const BarGuess& guess, int blocks);

}  // namespace corefleck
