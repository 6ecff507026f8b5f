#pragma once

#include "corefleck/photo.hpp"

#include <opencv2/core.hpp>

namespace corefleck {

/// The whole photo at reduced size, on which things are found before they are located on the photo itself.
struct Overview {
  int factor;         ///< photo pixels per overview pixel
  cv::Mat rgb;        ///< CV_32FC3 linear sRGB
  cv::Mat luminance;  ///< CV_32FC1 linear
  cv::Mat tone;       ///< CV_32FC1, L* of the luminance over that of the photo's light parts, 0 to about 100

  [[nodiscard]] cv::Point2d to_photo(cv::Point2d p) const {
    const double shift = 0.5 * (factor - 1);
    return {p.x * factor + shift, p.y * factor + shift};
  }
  [[nodiscard]] cv::Point2d from_photo(cv::Point2d p) const {
    const double shift = 0.5 * (factor - 1);
    return {(p.x - shift) / factor, (p.y - shift) / factor};
  }
};

[[nodiscard]] Overview make_overview(const Photo& photo);

/// Value between pixels; beyond the border the border's value. CV_32FC1.
[[nodiscard]] float bilinear(const cv::Mat& image, double x, double y);

}  // namespace corefleck
