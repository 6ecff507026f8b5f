#pragma once

#include <opencv2/core.hpp>

#include <cmath>
#include <numbers>

/// Masks drawn by rule: the pixel (x, y), centre at the integers, is 255 where inside(x, y) holds.
template <class Inside>
cv::Mat drawn_mask(int width, int height, const Inside& inside) {
  cv::Mat mask(height, width, CV_8UC1, cv::Scalar{0});
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x)
      if (inside(static_cast<double>(x), static_cast<double>(y))) mask.at<uchar>(y, x) = 255;
  return mask;
}

struct Disc {
  double cx, cy, r;
  bool operator()(double x, double y) const { return (x - cx) * (x - cx) + (y - cy) * (y - cy) <= r * r; }
};

/// Coordinates along the axes of a figure turned by `deg`.
struct Turned {
  double cx, cy, deg;
  [[nodiscard]] cv::Point2d along(double x, double y) const {
    const double t = deg * std::numbers::pi / 180.0;
    return {(x - cx) * std::cos(t) + (y - cy) * std::sin(t),
            -(x - cx) * std::sin(t) + (y - cy) * std::cos(t)};
  }
};

struct Ellipse {
  Turned axes;
  double a, b;
  bool operator()(double x, double y) const {
    const cv::Point2d p = axes.along(x, y);
    return (p.x / a) * (p.x / a) + (p.y / b) * (p.y / b) <= 1.0;
  }
};

struct Rectangle {
  Turned axes;
  double half_u, half_v;
  bool operator()(double x, double y) const {
    const cv::Point2d p = axes.along(x, y);
    return std::abs(p.x) <= half_u && std::abs(p.y) <= half_v;
  }
};
