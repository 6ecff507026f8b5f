#pragma once

#include <opencv2/core.hpp>

#include <utility>
#include <vector>

namespace corefleck {

/// Places labels beside their spots so that none lies on another label or, where there is room, on a spot.
class LabelRoom {
 public:
  explicit LabelRoom(std::vector<cv::Rect2d> spots) : spots_(std::move(spots)) {}
  /// A box of that size beside the spot, which is taken from now on.
  cv::Rect2d place(const cv::Rect2d& spot, cv::Size2d size);

 private:
  [[nodiscard]] double covered(const cv::Rect2d& box) const;
  std::vector<cv::Rect2d> spots_, labels_;
};

}  // namespace corefleck
