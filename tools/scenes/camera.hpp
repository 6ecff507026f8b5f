#pragma once

#include "style.hpp"

#include <opencv2/core.hpp>

namespace scenes {

/// A true pinhole: square pixels, principal point at the frame's middle. Plane: mm, x right, y up.
struct Camera {
  int width, height;
  double focal_px, depth_mm, tilt_deg;
  cv::Matx33d mm_to_px, px_to_mm;

  [[nodiscard]] double mm_per_px() const { return depth_mm / focal_px; }
  [[nodiscard]] cv::Point2d to_px(cv::Point2d mm) const;
  [[nodiscard]] cv::Point2d to_mm(cv::Point2d px) const;
  [[nodiscard]] bool in_frame(cv::Point2d mm, double margin_px) const;
};

/// `centre_px`: where the face's centre is to appear; `core_px`: its diameter were it not tilted.
[[nodiscard]] Camera make_camera(
    const CameraStyle& style, cv::Size frame, cv::Point2d centre_px, double core_px, double diameter_mm);

}  // namespace scenes
