#pragma once

#include "overview.hpp"
#include "scale_bar.hpp"

#include "corefleck/calibration.hpp"

#include <array>
#include <optional>
#include <vector>

namespace corefleck {

/// A straight side of the card: two points on it, photo pixels, and the standard deviation of the line's
/// direction.
struct CardSide {
  cv::Point2d from, to;
  double direction_u_rad;
};

struct FoundCard {
  GreyCard card;
  std::array<std::optional<CardSide>, 4>
      sides;  ///< in order around the card; empty where no straight side was found
};

/// The uniform neutral rectangle whose luminance, against the light blocks of the bar, fits the stated
/// reflectance. Fails with grey_card_not_found or grey_card_ambiguous.
[[nodiscard]] Result<FoundCard> find_grey_card(const Photo& photo,
                                               const Overview& overview,
                                               const FaceEllipse& face,
                                               const FoundBar& bar,
                                               const CalibrationSettings& settings);

}  // namespace corefleck
