#pragma once

#include <opencv2/core.hpp>

#include <optional>
#include <utility>
#include <vector>

namespace corefleck {

/// What must stay free, counted so that any rectangle is asked in four look-ups.
class FreeSpace {
 public:
  /// Mask CV_8UC1, non-zero = taken; `origin` is the plate position of its upper left corner.
  FreeSpace(const cv::Mat& taken, cv::Point2d origin);
  /// Taken pixels inside the box.
  [[nodiscard]] int taken_in(const cv::Rect2d& box) const;
  [[nodiscard]] bool is_free(const cv::Rect2d& box) const { return taken_in(box) == 0; }
  [[nodiscard]] bool is_free(const cv::Point2d& point) const;

 private:
  cv::Mat sums_;
  cv::Point2d origin_;
};

/// A spot that wants a number, on the plate.
struct NumberedSpot {
  int id;
  cv::Rect2d bounds;
  std::vector<cv::Point2d> outline;
};

struct PlacedNumber {
  int id;
  cv::Rect2d box;
  std::optional<std::pair<cv::Point2d, cv::Point2d>> leader;  ///< from the number to the outline
};

struct NumberRoom {
  cv::Point2d centre;
  double radius;  ///< numbers stay inside this circle
  double digit_width, line_height;
};

/// Places what fits, in the order given, so give the largest first. No number lies on a spot, another number
/// or a leader.
[[nodiscard]] std::vector<PlacedNumber> place_numbers(const std::vector<NumberedSpot>& spots,
                                                      const FreeSpace& space,
                                                      const NumberRoom& room);

}  // namespace corefleck
