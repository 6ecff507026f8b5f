#pragma once

#include "overview.hpp"

#include <opencv2/core.hpp>

#include <functional>

namespace corefleck {

/// A rectangle along an axis: columns along it, rows across it.
struct StripFrame {
  cv::Point2d origin;     ///< distance 0 on the axis
  cv::Point2d direction;  ///< unit
  double from, step;      ///< distance of the first column, and between columns
  int columns;
  double centre, half;  ///< middle and half-width across; the positive side is 90 degrees on from x to y
  int rows;
  [[nodiscard]] double along(int column) const { return from + step * column; }
  [[nodiscard]] double across(int row) const {
    return centre + (rows > 1 ? half * (2.0 * row / (rows - 1) - 1.0) : 0.0);
  }
  [[nodiscard]] cv::Point2d place(double s, double t) const {
    return origin + s * direction + t * cv::Point2d(-direction.y, direction.x);
  }
};

/// Where luminance along strips is taken from: the photo or its overview, in its own pixels.
struct StripLight {
  std::function<cv::Mat(const StripFrame&)> strip;  ///< CV_32FC1, linear luminance
  cv::Size size;
};

[[nodiscard]] StripLight light_along(const Photo& photo);
[[nodiscard]] StripLight light_along(const Overview& overview);

}  // namespace corefleck
