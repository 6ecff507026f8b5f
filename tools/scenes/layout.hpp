#pragma once

#include "camera.hpp"
#include "sheets.hpp"
#include "style.hpp"

#include <optional>
#include <vector>

namespace scenes {

struct CorePlace {
  cv::Point2d centre_mm;
  double radius_mm, turn_rad;  ///< counterclockwise turn of the invented face on the bench
};

/// Where everything lies, in the plane of the (first) face.
struct Layout {
  Camera camera;
  std::vector<CorePlace> cores;  ///< the first is the one that the truth describes
  std::optional<GreyCard> card;
  std::optional<ScaleBar> bar;
  std::vector<Sheet> others;

  [[nodiscard]] std::vector<const Sheet*> sheets() const;
};

/// Nothing overlaps or leaves the frame (unless the core is to be cut by it). Where
/// card and bar do not fit beside the core, the card is made smaller or the camera goes further off.
[[nodiscard]] Layout make_layout(const SceneStyle& style, cv::Size frame);

}  // namespace scenes
