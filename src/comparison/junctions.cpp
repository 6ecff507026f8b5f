#include "junctions.hpp"

#include "equal_blur.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace corefleck {
namespace {

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
  const EqualBlur blur = equal_blur(parted, joined);
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
    const auto here = share_of_contrast(parted, {one, other}, mm, blur.to_first_mm);
    const auto there = share_of_contrast(joined, {id}, parted_to_joined(mm), blur.to_second_mm);
    if (here && there) most = std::max(most.value_or(-1.0), *there - *here);
  }
  return most;
}

}  // namespace corefleck
