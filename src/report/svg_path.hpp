#pragma once

#include "corefleck/segmentation.hpp"

#include <string>

namespace corefleck {

/// Outlines as SVG path data in pixels of the face's grid, whose edges lie at whole numbers. Corners that no
/// zoom of a screen shows are left out.
[[nodiscard]] std::string svg_path(const Contour& contour);
/// With its holes.
[[nodiscard]] std::string svg_path(const Region& region);
/// What a mask (CV_8UC1, on the grid) holds, at half the grid's resolution.
[[nodiscard]] std::string svg_path_of_mask(const cv::Mat& mask);

}  // namespace corefleck
