#include "camera.hpp"

#include <cmath>
#include <numbers>

namespace scenes {
namespace {

constexpr double kFullFrameDiagonalMm = 43.2666;

// Turn about an axis in the plane: no twist, so up in the plane stays as nearly up as tilt allows.
cv::Matx33d tilt_rotation(double angle, double direction) {
  const double x = std::cos(direction), y = std::sin(direction), c = std::cos(angle), s = std::sin(angle);
  return {c + x * x * (1 - c),
          x * y * (1 - c),
          y * s,
          x * y * (1 - c),
          c + y * y * (1 - c),
          -x * s,
          -y * s,
          x * s,
          c};
}

cv::Point2d apply(const cv::Matx33d& h, cv::Point2d p) {
  const cv::Vec3d v = h * cv::Vec3d(p.x, p.y, 1);
  return {v[0] / v[2], v[1] / v[2]};
}

}  // namespace

cv::Point2d Camera::to_px(cv::Point2d mm) const { return apply(mm_to_px, mm); }
cv::Point2d Camera::to_mm(cv::Point2d px) const { return apply(px_to_mm, px); }

bool Camera::in_frame(cv::Point2d mm, double margin_px) const {
  const cv::Point2d px = to_px(mm);
  return px.x > margin_px && px.y > margin_px && px.x < width - 1 - margin_px &&
         px.y < height - 1 - margin_px;
}

Camera make_camera(
    const CameraStyle& style, cv::Size frame, cv::Point2d centre_px, double core_px, double diameter_mm) {
  Camera camera{};
  camera.width = frame.width;
  camera.height = frame.height;
  camera.focal_px = style.focal35_mm / kFullFrameDiagonalMm * std::hypot(frame.width, frame.height);
  camera.depth_mm = diameter_mm * camera.focal_px / core_px;
  camera.tilt_deg = style.tilt_deg;
  const double px = 0.5 * (frame.width - 1), py = 0.5 * (frame.height - 1), f = camera.focal_px;
  const cv::Matx33d r = tilt_rotation(style.tilt_deg * std::numbers::pi / 180, style.tilt_direction);
  const double tx = (centre_px.x - px) / f * camera.depth_mm, ty = (centre_px.y - py) / f * camera.depth_mm;
  const cv::Matx33d lens(f, 0, px, 0, f, py, 0, 0, 1);
  const cv::Matx33d plane(r(0, 0), -r(0, 1), tx, r(1, 0), -r(1, 1), ty, r(2, 0), -r(2, 1), camera.depth_mm);
  camera.mm_to_px = lens * plane;
  camera.mm_to_px *= 1 / camera.mm_to_px(2, 2);
  camera.px_to_mm = camera.mm_to_px.inv();
  return camera;
}

}  // namespace scenes
