#include "given_places.hpp"

#include <fmt/format.h>

namespace corefleck {
namespace {

bool holds(const Photo& photo, double x, double y) {
  return x >= 0.0 && y >= 0.0 && x <= photo.width_px() && y <= photo.height_px();
}

tl::unexpected<MeasureError> outside(const Photo& photo,
                                     ErrorCode code,
                                     std::string_view place,
                                     std::string_view option) {
  return failure(
      code,
      fmt::format("{} lies outside the photo, {} x {} px", place, photo.width_px(), photo.height_px()),
      fmt::format("give {} in pixels of this photo as it is seen upright", option));
}

}  // namespace

Result<void> given_places_lie_in(const Photo& photo, const CalibrationSettings& settings) {
  if (const auto& core = settings.core_at; core && !holds(photo, core->x, core->y))
    return outside(photo, ErrorCode::face_not_found, "the given centre of the face", "--core-at X,Y,R");
  if (const auto& card = settings.card_at;
      card && !holds(photo, card->x + 0.5 * card->w, card->y + 0.5 * card->h))
    return outside(photo, ErrorCode::grey_card_not_found, "the given place of the card", "--card-at X,Y,W,H");
  if (const auto& bar = settings.bar_ends;
      bar && !(holds(photo, bar->x1, bar->y1) && holds(photo, bar->x2, bar->y2)))
    return outside(photo, ErrorCode::scale_bar_not_found, "a given end of the bar", "--bar-ends X1,Y1,X2,Y2");
  return {};
}

}  // namespace corefleck
