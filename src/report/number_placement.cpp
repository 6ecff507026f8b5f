#include "number_placement.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>

namespace corefleck {
namespace {

// Beside the spot first, farther on a leader only when there is no room; to the right and above before the
// rest, where map readers look for a name first (Imhof 1975, The American Cartographer 2(2), 128-144).
constexpr std::array kGaps{3.0, 9.0, 18.0, 30.0, 46.0, 66.0};
constexpr double kLeaderFromGap = 9.0;
// A number without a leader must be nearer to its own spot than to any other by this much.
constexpr double kOwnBy = 5.0;
constexpr int kDirections = 16;
constexpr std::array<int, kDirections> kDirectionOrder{0, 2, 14, 8, 6, 10, 4, 12, 1, 15, 3, 7, 9, 13, 5, 11};
constexpr double kPadding = 2.0;
// Where a leader ends, so that it points at the spot and covers nothing of it.
constexpr double kShortOfOutline = 5.0;
constexpr double kTwoPi = 6.28318530717958647692;

using Segment = std::pair<cv::Point2d, cv::Point2d>;

cv::Point2d along(const Segment& segment, double share) {
  return segment.first + share * (segment.second - segment.first);
}

/// Whether any of the points along the segment, about 2 px apart, meets the condition.
template <class Condition>
bool any_point(const Segment& segment, Condition condition) {
  const int steps = std::max(1, static_cast<int>(cv::norm(segment.second - segment.first) / 2.0));
  for (int i = 0; i <= steps; ++i)
    if (condition(along(segment, static_cast<double>(i) / steps))) return true;
  return false;
}

class Placement {
 public:
  Placement(const FreeSpace& space, const NumberRoom& room) : space_(space), room_(room) {}
  void place(const NumberedSpot& spot);
  [[nodiscard]] std::vector<PlacedNumber> taken() && { return std::move(placed_); }

 private:
  [[nodiscard]] cv::Rect2d candidate(const NumberedSpot& spot, double gap, int direction) const;
  [[nodiscard]] bool fits(const cv::Rect2d& box) const;
  [[nodiscard]] bool is_plainly_of(const NumberedSpot& spot, const cv::Rect2d& box, double gap) const;
  [[nodiscard]] bool try_place(const NumberedSpot& spot, bool plain_only);
  [[nodiscard]] std::optional<Segment> leader(const NumberedSpot& spot, const cv::Rect2d& box) const;
  [[nodiscard]] bool is_clear(const Segment& segment) const;
  const FreeSpace& space_;
  NumberRoom room_;
  std::vector<PlacedNumber> placed_;
};

cv::Rect2d Placement::candidate(const NumberedSpot& spot, double gap, int direction) const {
  const double width =
      room_.digit_width * static_cast<double>(std::to_string(spot.id).size()) + 2.0 * kPadding;
  const double height = room_.line_height + 2.0 * kPadding;
  const double angle = kTwoPi * direction / kDirections;
  const double x =
      spot.bounds.x + 0.5 * spot.bounds.width + std::cos(angle) * (0.5 * (spot.bounds.width + width) + gap);
  const double y = spot.bounds.y + 0.5 * spot.bounds.height -
                   std::sin(angle) * (0.5 * (spot.bounds.height + height) + gap);
  return {x - 0.5 * width, y - 0.5 * height, width, height};
}

bool Placement::fits(const cv::Rect2d& box) const {
  const double dx = std::abs(box.x + 0.5 * box.width - room_.centre.x) + 0.5 * box.width;
  const double dy = std::abs(box.y + 0.5 * box.height - room_.centre.y) + 0.5 * box.height;
  if (std::hypot(dx, dy) > room_.radius || !space_.is_free(box)) return false;
  return std::none_of(placed_.begin(), placed_.end(), [&](const PlacedNumber& other) {
    if ((other.box & box).area() > 0.0) return true;
    return other.leader &&
           any_point(*other.leader, [&](const cv::Point2d& point) { return box.contains(point); });
  });
}

bool Placement::is_clear(const Segment& segment) const {
  if (any_point(segment, [&](const cv::Point2d& point) { return !space_.is_free(point); })) return false;
  return std::none_of(placed_.begin(), placed_.end(), [&](const PlacedNumber& other) {
    return any_point(segment, [&](const cv::Point2d& point) { return other.box.contains(point); });
  });
}

std::optional<Segment> Placement::leader(const NumberedSpot& spot, const cv::Rect2d& box) const {
  if (spot.outline.empty()) return std::nullopt;
  const cv::Point2d middle(box.x + 0.5 * box.width, box.y + 0.5 * box.height);
  const auto nearest = std::min_element(
      spot.outline.begin(), spot.outline.end(), [&](const cv::Point2d& a, const cv::Point2d& b) {
        return cv::norm(a - middle) < cv::norm(b - middle);
      });
  const cv::Point2d from(std::clamp(nearest->x, box.x, box.x + box.width),
                         std::clamp(nearest->y, box.y, box.y + box.height));
  const double length = cv::norm(*nearest - from);
  return Segment{from, along({from, *nearest}, std::max(0.0, 1.0 - kShortOfOutline / std::max(length, 1.0)))};
}

bool Placement::is_plainly_of(const NumberedSpot& spot, const cv::Rect2d& box, double gap) const {
  const double by = gap + kOwnBy;
  const cv::Rect2d around(box.x - by, box.y - by, box.width + 2.0 * by, box.height + 2.0 * by);
  const cv::Rect2d own(
      spot.bounds.x - 4.0, spot.bounds.y - 4.0, spot.bounds.width + 8.0, spot.bounds.height + 8.0);
  return space_.taken_in(around) == space_.taken_in(around & own);
}

bool Placement::try_place(const NumberedSpot& spot, bool plain_only) {
  for (const double gap : kGaps) {
    for (const int direction : kDirectionOrder) {
      const cv::Rect2d box = candidate(spot, gap, direction);
      if (!fits(box)) continue;
      const bool needs_leader = gap > kLeaderFromGap || !is_plainly_of(spot, box, gap);
      if (needs_leader && (plain_only || gap < kLeaderFromGap)) continue;  // shorter ones would not be seen
      std::optional<Segment> line = leader(spot, box);
      if (line && !is_clear(*line)) continue;
      placed_.push_back({spot.id, box, needs_leader ? line : std::nullopt});
      return true;
    }
  }
  return false;
}

void Placement::place(const NumberedSpot& spot) {
  if (!try_place(spot, /*plain_only=*/true)) (void)try_place(spot, /*plain_only=*/false);
}

}  // namespace

FreeSpace::FreeSpace(const cv::Mat& taken, cv::Point2d origin) : origin_(origin) {
  cv::Mat ones;
  cv::min(taken, 1, ones);
  cv::integral(ones, sums_, CV_32S);
}

int FreeSpace::taken_in(const cv::Rect2d& box) const {
  const auto column = [&](double x) {
    return std::clamp(static_cast<int>(std::lround(x - origin_.x)), 0, sums_.cols - 1);
  };
  const auto row = [&](double y) {
    return std::clamp(static_cast<int>(std::lround(y - origin_.y)), 0, sums_.rows - 1);
  };
  const int left = column(box.x), right = column(box.x + box.width);
  const int top = row(box.y), bottom = row(box.y + box.height);
  return sums_.at<int>(bottom, right) - sums_.at<int>(top, right) - sums_.at<int>(bottom, left) +
         sums_.at<int>(top, left);
}

bool FreeSpace::is_free(const cv::Point2d& point) const {
  return is_free(cv::Rect2d(point.x - 0.5, point.y - 0.5, 1.0, 1.0));
}

std::vector<PlacedNumber> place_numbers(const std::vector<NumberedSpot>& spots,
                                        const FreeSpace& space,
                                        const NumberRoom& room) {
  Placement placement(space, room);
  for (const NumberedSpot& spot : spots) placement.place(spot);
  return std::move(placement).taken();
}

}  // namespace corefleck
