#include "equal_blur.hpp"

#include "corefleck/colorimetry.hpp"

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kColour_px = 2.0;  // of the grid, a pixel of the colour

/// Width of what the colour shows of a sharp edge: the photo's blur, and the colour's own pixel.
double blur_mm(const FaceToCompare& photo) {
  return std::hypot(photo.face.blur_sigma_px, kColour_px / std::sqrt(12.0)) * photo.face.grid.pitch.number();
}

}  // namespace

EqualBlur equal_blur(const FaceToCompare& first, const FaceToCompare& second) {
  const double pixel_mm =
      kColour_px * std::max(first.face.grid.pitch.number(), second.face.grid.pitch.number());
  const double of_first = blur_mm(first), of_second = blur_mm(second);
  const double common = std::hypot(std::max(of_first, of_second), 0.5 * pixel_mm);
  const auto added = [&](double blur) { return std::sqrt(common * common - blur * blur); };
  return {common, added(of_first), added(of_second)};
}

std::optional<double> light_at(const FaceToCompare& photo, const cv::Point2d& mm, double sigma_mm) {
  const FaceGrid& grid = photo.face.grid;
  const double pitch = grid.pitch.number(), sigma_px = sigma_mm / (kColour_px * pitch);
  const cv::Point2d at(0.5 * (grid.centre_px + mm.x / pitch - 0.5),
                       0.5 * (grid.centre_px - mm.y / pitch - 0.5));
  const int reach = static_cast<int>(std::ceil(3.0 * sigma_px));
  double sum = 0.0, weights = 0.0, left_out = 0.0;
  for (int y = cvRound(at.y) - reach; y <= cvRound(at.y) + reach; ++y)
    for (int x = cvRound(at.x) - reach; x <= cvRound(at.x) + reach; ++x) {
      const double dx = x - at.x, dy = y - at.y;
      const double weight = std::exp(-0.5 * (dx * dx + dy * dy) / (sigma_px * sigma_px));
      const bool on_grid = cv::Rect({0, 0}, photo.face.colour.size()).contains({x, y}) &&
                           2 * x < grid.size_px && 2 * y < grid.size_px;
      if (!on_grid || photo.map.outside.at<unsigned char>(2 * y, 2 * x) != 0) {
        left_out += weight;
        continue;
      }
      const auto& rgb = photo.face.colour.at<cv::Vec3f>(y, x);
      sum +=
          weight *
          luminance({static_cast<double>(rgb[0]), static_cast<double>(rgb[1]), static_cast<double>(rgb[2])});
      weights += weight;
    }
  if (weights <= left_out) return std::nullopt;
  return sum / weights;
}

}  // namespace corefleck
