#include "spot_cautions.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kFewFaint = 3.0, kManyFaint = 0.1;  // regions; of the spots
// Of the spots' area, which is as much as their interval often is, and of the face: two square millimetres of
// a common core (no source).
constexpr double kMuchFaint = 0.05, kLeastFaint = 0.0003;
constexpr double kMuchGlare_pct = 5.0, kSomeGlare_pct = 0.5;
constexpr double kMuchDoubtful = 0.1;  // of the spots' area
constexpr double kClippedFace_pct = 0.2;
constexpr int kManyAtRim = 4;
constexpr double kMuchAtRim = 0.4;  // of the spots' area; evenly scattered ones have a tenth of it there

double spots_area_px(const SpotMap& map) {
  double area_px = 0.0;
  for (const Region& spot : map.spots) area_px += spot.area_px;
  return area_px;
}

void caution_about_faint(SpotMap& map, const Faint& faint) {
  const double spots_px = spots_area_px(map);
  const bool many = faint.number >= std::max(kFewFaint, kManyFaint * static_cast<double>(map.spots.size()));
  const bool much = faint.area_px > std::max(kMuchFaint * spots_px, kLeastFaint * map.face_area_px);
  if (many || much)
    map.cautions.push_back({CautionKind::faint_regions, fmt::format("{} regions", faint.number)});
}

/// What lies under glare cannot be told from a spot as light as it: by that, glare that covers more than the
/// spots do may change the area fraction by as much as it is.
void caution_about_glare(SpotMap& map) {
  const double pct_per_px = 100.0 / std::max(1.0, map.face_area_px),
               glare_pct = pct_per_px * map.glare_area_px, spots_pct = pct_per_px * spots_area_px(map);
  if (glare_pct > kMuchGlare_pct)
    map.cautions.push_back({CautionKind::much_glare, fmt::format("{:.1f} % of the face", glare_pct)});
  else if (glare_pct > std::max(kSomeGlare_pct, spots_pct))
    map.cautions.push_back(
        {CautionKind::much_glare, fmt::format("{:.1f} % of the face, spots {:.1f} %", glare_pct, spots_pct)});
}

/// Spots and reflections of the same shape and lightness are not told apart: where these hold much of the
/// area of spots, it is doubtful.
void caution_about_reflections(SpotMap& map) {
  const double spots_px = spots_area_px(map);
  const double doubtful_px = map.doubtful_area_px();
  if (doubtful_px > kMuchDoubtful * spots_px)
    map.cautions.push_back({CautionKind::reflections_possible,
                            fmt::format("{:.0f} % of the spots' area", 100.0 * doubtful_px / spots_px)});
}

/// A light bench behind a broken rim, and light fractures, lie in a row along it as spots hardly do.
void caution_about_rim(SpotMap& map) {
  int number = 0;
  double at_rim = 0.0;
  for (const Region& spot : map.spots) {
    if (!spot.touches_rim) continue;
    ++number;
    at_rim += spot.area_px;
  }
  const double all = spots_area_px(map);
  if (number >= kManyAtRim && at_rim > kMuchAtRim * all)
    map.cautions.push_back(
        {CautionKind::rim_incomplete,
         fmt::format(
             "{} light regions along it hold {:.0f} % of the spots' area", number, 100.0 * at_rim / all)});
}

}  // namespace

void add_cautions(SpotMap& map,
                  const CalibratedFace& face,
                  const SegmentationSettings& settings,
                  const Faint& faint,
                  double clipped_elsewhere_pct) {
  caution_about_faint(map, faint);
  caution_about_glare(map);
  caution_about_reflections(map);
  caution_about_rim(map);
  if (clipped_elsewhere_pct > kClippedFace_pct)
    map.cautions.push_back(
        {CautionKind::face_clipped, fmt::format("{:.1f} % of the face clips", clipped_elsewhere_pct)});
  // In pixels of the photo: the grid may be coarser.
  const double least_px = (settings.min_spot / face.pose.scale).number();
  const double smallest_px = map.spots.empty() ? least_px
                                               : 2.0 * std::sqrt(map.spots.back().area_px / CV_PI) *
                                                     (face.grid.pitch / face.pose.scale);
  if (face.bar.edge_width_px > 0.8 * std::max(smallest_px, least_px))
    map.cautions.push_back(
        {CautionKind::out_of_focus,
         fmt::format("edges {:.1f} px wide, smallest spot {:.1f} px", face.bar.edge_width_px, smallest_px)});
  if (smallest_px < 6.0)
    map.cautions.push_back(
        {CautionKind::spots_barely_resolved, fmt::format("{:.1f} px across", smallest_px)});
}

}  // namespace corefleck
