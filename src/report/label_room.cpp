#include "label_room.hpp"

#include <cmath>
#include <numbers>

namespace corefleck {

cv::Rect2d LabelRoom::place(const cv::Rect2d& spot, cv::Size2d size) {
  cv::Rect2d best;
  double least = 1e18;
  for (double away = 4.0; away < 64.0; away += 12.0)
    for (int step = 0; step < 12; ++step) {
      const double angle = std::numbers::pi * step / 6.0;
      const cv::Point2d middle(spot.x + 0.5 * spot.width, spot.y + 0.5 * spot.height);
      const double x = middle.x + std::cos(angle) * (0.5 * (spot.width + size.width) + away);
      const double y = middle.y - std::sin(angle) * (0.5 * (spot.height + size.height) + away);
      const cv::Rect2d box(x - 0.5 * size.width, y - 0.5 * size.height, size.width, size.height);
      const double cost = covered(box) + 3.0 * away;
      if (cost < least) least = cost, best = box;
    }
  labels_.push_back(best);
  return best;
}

double LabelRoom::covered(const cv::Rect2d& box) const {
  double sum = 0.0;
  for (const cv::Rect2d& spot : spots_) sum += (spot & box).area();
  for (const cv::Rect2d& label : labels_) sum += 20.0 * (label & box).area();
  return sum;
}

}  // namespace corefleck
