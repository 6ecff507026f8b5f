#include "junctions.hpp"

#include "corefleck/colorimetry.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace corefleck {
namespace {

constexpr double kColour_px = 2.0;  // of the grid, a pixel of the colour

/// Width of what the colour shows of a sharp edge: the photo's blur, and the colour's own pixel.
double blur_mm(const FaceToCompare& photo) {
  return std::hypot(photo.face.blur_sigma_px, kColour_px / std::sqrt(12.0)) * photo.face.grid.pitch.number();
}

/// Where two outlines come nearest to each other: the middle of all places within a pixel of the least
/// distance, so that along a neck it is the neck's middle. Grid pixels.
struct Junction {
  cv::Point2d middle;
  double distance_px;
};

Junction junction_of(const Contour& a, const Contour& b) {
  double least = std::numeric_limits<double>::infinity();
  for (const cv::Point2d& p : a)
    for (const cv::Point2d& q : b) least = std::min(least, (p - q).dot(p - q));
  least = std::sqrt(least);
  cv::Point2d sum(0.0, 0.0);
  int count = 0;
  for (const cv::Point2d& p : a)
    for (const cv::Point2d& q : b)
      if ((p - q).dot(p - q) <= (least + 1.0) * (least + 1.0)) {
        sum += 0.5 * (p + q);
        ++count;
      }
  return {sum / std::max(count, 1), least};
}

/// Luminance at a place, seen through a Gaussian; nothing where the place itself is not measured.
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

/// A place's light between the spots' ground, 0, and their plateau, 1.
std::optional<double> share_of_contrast(const FaceToCompare& photo,
                                        const std::vector<int>& ids,
                                        const cv::Point2d& mm,
                                        double sigma_mm) {
  double plateau = 0.0, ground = 0.0;
  for (const int id : ids) {
    plateau += photo.map.spot(id).plateau / static_cast<double>(ids.size());
    ground += photo.map.spot(id).ground / static_cast<double>(ids.size());
  }
  const auto light = light_at(photo, mm, sigma_mm);
  if (!light || !(plateau > ground)) return std::nullopt;
  return (*light - ground) / (plateau - ground);
}

}  // namespace

std::optional<double> filled_between(const FaceToCompare& parted,
                                     const std::vector<int>& ids,
                                     const FaceToCompare& joined,
                                     int id,
                                     const FaceTransform& parted_to_joined) {
  // A step of the coarser colour more than the blurrier photo has, so that both are sums over pixels.
  const double pixel_mm =
      kColour_px * std::max(parted.face.grid.pitch.number(), joined.face.grid.pitch.number());
  const double parted_blur = blur_mm(parted), joined_blur = blur_mm(joined);
  const double common = std::hypot(std::max(parted_blur, joined_blur), 0.5 * pixel_mm);
  const auto added = [&](double blur) { return std::sqrt(common * common - blur * blur); };
  std::optional<double> most;
  for (const int one : ids) {
    Junction nearest{{0.0, 0.0}, std::numeric_limits<double>::infinity()};
    int other = one;
    for (const int another : ids) {
      if (another == one) continue;
      const Junction junction = junction_of(parted.map.spot(one).outline, parted.map.spot(another).outline);
      if (junction.distance_px < nearest.distance_px) nearest = junction, other = another;
    }
    const FaceGrid& grid = parted.face.grid;
    const cv::Point2d mm(grid.x_mm(nearest.middle.x), grid.y_mm(nearest.middle.y));
    const auto here = share_of_contrast(parted, {one, other}, mm, added(parted_blur));
    const auto there = share_of_contrast(joined, {id}, parted_to_joined(mm), added(joined_blur));
    if (here && there) most = std::max(most.value_or(-1.0), *there - *here);
  }
  return most;
}

}  // namespace corefleck
