#include "rim_chips.hpp"

#include "broken_rim.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kSliver_mm = 0.8;  // a light region at the rim band that goes in no further is a chip
// What broke off is broad at the rim, and rougher than spots, which reach 1.7 times the usual scatter where
// they are broad there (40 on rendered faces; a small one that only touched the band had 2.5); chips had 2.35
// or more.
constexpr double kBroadAtRim = 0.5, kRougher = 2.1;  // of its depth; times the usual scatter
constexpr double kAtRim_px = 1.5;                    // by which an outline along the band may miss it

/// How a region lies at the rim band, in pixels.
struct AtRim {
  double depth, breadth;  ///< how far in it reaches; how much of its outline runs along the band
};

AtRim at_rim(const Contour& outline, const CalibratedFace& face) {
  const double inner_px = ((face.radius - face.rim_band) / face.grid.pitch).number();
  const auto from_centre = [&](const cv::Point2d& p) {
    return std::hypot(p.x - face.grid.centre_px, p.y - face.grid.centre_px);
  };
  double least = inner_px, breadth = 0.0;
  for (std::size_t i = 0; i < outline.size(); ++i) {
    const cv::Point2d &p = outline[i], &next = outline[(i + 1) % outline.size()];
    least = std::min(least, from_centre(p));
    if (std::min(from_centre(p), from_centre(next)) > inner_px - kAtRim_px) breadth += cv::norm(next - p);
  }
  return {inner_px - least, breadth};
}

// Saws and drills leave light chips along the rim. A light region there is a spot only if it reaches in far
// enough to tell and looks like the spots away from the rim: a fracture is rougher.
bool is_rim_chip(const Outlined& spot, const UsualLooks& usual, const CalibratedFace& face) {
  if (!spot.region.touches_rim) return false;
  if (!usual.fit(spot)) return true;
  const AtRim lies = at_rim(spot.region.outline, face);
  return lies.depth * face.grid.pitch.number() < kSliver_mm ||
         (lies.breadth > kBroadAtRim * lies.depth && spot.unevenness > kRougher * usual.unevenness);
}

}  // namespace

void leave_out_chips(std::vector<Outlined>& spots,
                     const UsualLooks& usual,
                     const CalibratedFace& face,
                     SpotMap& map) {
  const auto chips = std::stable_partition(
      spots.begin(), spots.end(), [&](const Outlined& spot) { return !is_rim_chip(spot, usual, face); });
  double area_px = 0.0;
  for (auto chip = chips; chip != spots.end(); ++chip) {
    map.outside(chip->region.box).setTo(static_cast<unsigned char>(Outside::chip), chip->mask);
    area_px += chip->region.area_px;
  }
  spots.erase(chips, spots.end());
  if (area_px > kBrokenOff * map.face_area_px)
    map.cautions.push_back(
        {CautionKind::rim_incomplete,
         fmt::format("light along it, {:.1f} % of the face, left out", 100.0 * area_px / map.face_area_px)});
}

}  // namespace corefleck
