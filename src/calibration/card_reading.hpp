#pragma once

#include "grey_card.hpp"

namespace corefleck {

/// Level of the middle of a card found on the overview, and its straight sides.
[[nodiscard]] Result<FoundCard> read_card(const Photo& photo,
                                          const Overview& overview,
                                          const std::array<cv::Point2d, 4>& corners);

/// Level of the middle of a box given by hand, photo pixels; no sides.
[[nodiscard]] Result<FoundCard> read_card_in_box(const Photo& photo, const PixelBox& box);

}  // namespace corefleck
