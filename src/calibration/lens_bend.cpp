#include "corefleck/calibration.hpp"

namespace corefleck {

// Across the radius lengths grow by the stretch itself, along it by its derivative (1 + q)^2 / (1 - q) with q
// = bend r^2.
double LensBend::magnification(cv::Point2d seen) const {
  const double q = at_corner * squared(seen);
  return std::sqrt(std::pow(1.0 + q, 3.0) / (1.0 - q));
}

cv::Point2d Pose::seen_at(double x_mm, double y_mm) const {
  const cv::Vec3d p = mm_to_px * cv::Vec3d(x_mm, y_mm, 1.0);
  return lens.bent({p[0] / p[2], p[1] / p[2]});
}

}  // namespace corefleck
