#include "spot_rule.hpp"

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

// Read off rendered faces of two renderers, 2300 spots and 13 000 regions of mottle: 99 % of the spots lie
// above these, and 99 % of the mottle below one of them.
constexpr double kLeastContrast = 0.16;  // Weber contrast of the plateau against the ground
// Of what is asked of the height: bare matrix is light, too, against a dark grain or a shadow's edge.
constexpr double kAboveLevel = 0.5;
constexpr double kAboveMottle = 3.8;  // in deviations of the matrix over the smallest spot's area
constexpr double kAboveGround = 4.0;  // in deviations of the ring of matrix around the region
constexpr double kAboveNoise = 5.0;
constexpr double kAboveMottleOwnColour = 2.5;
constexpr double kAboveGroundOwnColour = 2.0;
constexpr double kSoftFlank_mm = 1.1;    // a flank this wide doubles what is asked
constexpr double kUnevenPlateau = 0.25;  // scatter of the plateau over its height
constexpr double kUnevenPlateauOwnColour = 0.3;
// Spots of two shades that touch have no even plateau, and so far above what is asked there is no mottle. Set
// on one such spot; on 330 rendered faces three other regions passed by it.
constexpr double kFarAbove = 1.5, kMostUneven = 2.0;
constexpr double kNearly = 0.8;     // of the height that is asked
constexpr double kCrisp_mm = 0.15;  // broad mottle fades over a quarter of a millimetre and more
constexpr int kLeastGround_px = 12;
constexpr std::size_t kLone = 2;
constexpr double kLoneMargin = 1.25;

}  // namespace

double least_detectable(double mottle_rel) { return std::max(kLeastContrast, kAboveMottle * mottle_rel); }

double lone_margin(std::size_t regions) { return regions <= kLone ? kLoneMargin : 1.0; }

bool is_spot(const Evidence& region, const DetectionRule& rule) {
  if (region.area_px < rule.least_area_px || region.ground_px < kLeastGround_px) return false;
  const double mottle = (region.own_colour ? kAboveMottleOwnColour : kAboveMottle) * rule.mottle_rel;
  const double ground = (region.own_colour ? kAboveGroundOwnColour : kAboveGround) * region.spread_ground;
  const double uneven = region.own_colour ? kUnevenPlateauOwnColour : kUnevenPlateau;
  const double needed = std::max({kLeastContrast, mottle, ground, kAboveNoise * rule.noise_rel}) *
                        (1.0 + std::pow(region.soft_mm / kSoftFlank_mm, 2.0));
  const double shades = std::clamp(region.height / (kFarAbove * needed), 1.0, kMostUneven);
  return region.height > needed && region.plateau > kAboveLevel * needed &&
         region.spread_inside < shades * uneven * region.height;
}

bool is_nearly_spot(const Evidence& region, const DetectionRule& rule) {
  if (region.area_px < rule.broad_area_px || region.soft_mm > kCrisp_mm || region.height < kLeastContrast)
    return false;
  Evidence higher = region;
  higher.height /= kNearly;
  higher.plateau /= kNearly;
  return is_spot(higher, rule);
}

}  // namespace corefleck
