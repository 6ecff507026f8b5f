#pragma once

#include "scale_bar.hpp"

#include <opencv2/core.hpp>

#include <Eigen/Dense>
#include <vector>

namespace corefleck {

/// A camera over the face: what the pose fit solves for. Angles in radians, focal length in photo pixels.
struct Camera {
  double tilt_x, tilt_y, log_focal;  ///< tilt vector: direction in which the plane recedes, times the angle
  double bend;                       ///< of the lens, as in `LensBend`
};

/// The plane seen through the camera: pixel to plane coordinates in units of the depth at the anchor.
class PlaneView {
 public:
  /// `straight`: the photo's frame, whatever its bend; `anchor`: photo pixels.
  PlaneView(const Camera& camera, LensBend straight, cv::Point2d anchor);
  [[nodiscard]] Eigen::Vector2d plane(cv::Point2d pixel) const {
    const Eigen::Vector3d r = ray(lens_.straightened(pixel));
    const Eigen::Vector3d offset = r * (normal_.dot(anchor_) / normal_.dot(r)) - anchor_;
    return {offset.dot(right_), offset.dot(down_)};
  }
  [[nodiscard]] Eigen::Vector3d space(const Eigen::Vector2d& p) const {
    return anchor_ + p.x() * right_ + p.y() * down_;
  }
  [[nodiscard]] cv::Point2d pixel(const Eigen::Vector2d& p) const {
    const Eigen::Vector3d s = space(p);
    return lens_.bent({focal_ * s.x() / s.z() + lens_.middle.x, focal_ * s.y() / s.z() + lens_.middle.y});
  }
  [[nodiscard]] double focal() const { return focal_; }
  [[nodiscard]] const LensBend& lens() const { return lens_; }
  [[nodiscard]] const Eigen::Vector3d& right() const { return right_; }
  [[nodiscard]] const Eigen::Vector3d& down() const { return down_; }

 private:
  [[nodiscard]] Eigen::Vector3d ray(cv::Point2d p) const {
    return {(p.x - lens_.middle.x) / focal_, (p.y - lens_.middle.y) / focal_, 1.0};
  }
  double focal_;
  LensBend lens_;
  Eigen::Vector3d normal_, anchor_, right_, down_;
};

/// A circle in the plane, in depths at the anchor.
struct Circle {
  double x, y, r;
  double cos2, sin2;  ///< second harmonic of the radius, relative
  double deviation;   ///< of the points about the circle, relative
};

/// The circle, with its second harmonic, through rim points that were seen in the photo.
[[nodiscard]] Circle fit_circle(const PlaneView& view, const std::vector<cv::Point2d>& rim);

/// A cosine or sine of the radius, finer than the second harmonic, as large as a second one of the same wall
/// would be: drilled rims stray the less the finer, by about the square of the order (common practice, no
/// source).
struct Harmonic {
  double like_second, u;  ///< relative to the radius
};

/// Of third, fourth and fifth order, through rim points that were seen in the photo.
[[nodiscard]] std::vector<Harmonic> finer_harmonics(const PlaneView& view,
                                                    const std::vector<cv::Point2d>& rim);

/// Block edges along their line in the plane.
struct Spacing {
  double pitch;                   ///< of one block, in depths
  double u_by_edge;               ///< relative uncertainty of the pitch, by that of an edge in pitches
  std::vector<double> residuals;  ///< in pitches
  double scatter_px;              ///< standard deviation about equal spacing, photo pixels
};

/// Equal spacing fitted to the block edges in the plane.
[[nodiscard]] Spacing fit_spacing(const PlaneView& view, const FoundBar& bar);

}  // namespace corefleck
