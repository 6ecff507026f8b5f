#include "junctions.hpp"

#include "equal_blur.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace corefleck {
namespace {

// From the gap's middle line to its sides, and this much beyond: a dark end lies that near to both spots.
constexpr double kMouth_mm = 0.3;

struct Nearest {
  cv::Point2d middle;  ///< grid pixels
  double distance_px;
};

/// The middle of all places within a pixel of the least distance, so that along a neck it is the neck's
/// middle.
Nearest nearest_places(const Contour& a, const Contour& b) {
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

std::vector<Junction> junctions_between(const FaceToCompare& photo, const std::vector<int>& ids) {
  const FaceGrid& grid = photo.face.grid;
  std::vector<Junction> junctions;
  for (const int one : ids) {
    Nearest nearest{{0.0, 0.0}, std::numeric_limits<double>::infinity()};
    int other = one;
    for (const int another : ids) {
      if (another == one) continue;
      const Nearest places = nearest_places(photo.map.spot(one).outline, photo.map.spot(another).outline);
      if (places.distance_px < nearest.distance_px) nearest = places, other = another;
    }
    const bool known = std::any_of(junctions.begin(), junctions.end(), [&](const Junction& junction) {
      return junction.one == other && junction.other == one;
    });
    if (!known)
      junctions.push_back({one,
                           other,
                           {grid.x_mm(nearest.middle.x), grid.y_mm(nearest.middle.y)},
                           nearest.distance_px * grid.pitch.number()});
  }
  return junctions;
}

bool pit_at(const Junction& junction, const FaceToCompare& photo) {
  const double near_px = (0.5 * junction.gap_mm + kMouth_mm) / photo.face.grid.pitch.number();
  const auto near = [&](const cv::Point2d& place, int id) {
    const Contour& outline = photo.map.spot(id).outline;
    return std::any_of(outline.begin(), outline.end(), [&](const cv::Point2d& p) {
      return (p - place).dot(p - place) <= near_px * near_px;
    });
  };
  const cv::Rect one = photo.map.spot(junction.one).box;
  const int reach = static_cast<int>(std::ceil(near_px));
  const cv::Rect around(one.tl() - cv::Point(reach, reach), one.size() + cv::Size(2 * reach, 2 * reach));
  return std::any_of(photo.map.pits.begin(), photo.map.pits.end(), [&](const Region& pit) {
    return !(around & pit.box).empty() &&
           std::any_of(pit.outline.begin(), pit.outline.end(), [&](const cv::Point2d& place) {
             return near(place, junction.one) && near(place, junction.other);
           });
  });
}

std::optional<double> filled_at(const Junction& junction,
                                const FaceToCompare& parted,
                                const FaceToCompare& joined,
                                int id,
                                const FaceTransform& parted_to_joined) {
  const EqualBlur blur = equal_blur(parted, joined);
  const auto here = share_of_contrast(parted, {junction.one, junction.other}, junction.mm, blur.to_first_mm);
  const auto there = share_of_contrast(joined, {id}, parted_to_joined(junction.mm), blur.to_second_mm);
  if (!here || !there) return std::nullopt;
  return *there - *here;
}

}  // namespace corefleck
