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
constexpr int kLeastGround_px = 12;

constexpr double kSameSize = 1.5;   // regions down to this much narrower count as of one size
constexpr double kFarLarger = 4.0;  // in width: stains and trowel marks, which tell nothing of grains
constexpr double kEnoughMembers = 20.0;
// Heights of mottle fall off like an exponential beyond their median, or faster: of n regions less than
// kFalseAlarms are expected beyond median + kTail ln(n / kFalseAlarms) (q90 - median). An exponential has
// kTail 1 / ln 5 = 0.62; read off rendered faces of two renderers, 0.5 leaves 2 of 13 000.
constexpr double kTail = 0.5, kFalseAlarms = 0.05;

}  // namespace

double least_detectable(double mottle_rel) { return std::max(kLeastContrast, kAboveMottle * mottle_rel); }

bool is_spot(const Evidence& region, const DetectionRule& rule) {
  if (region.area_px < rule.least_area_px || region.ground_px < kLeastGround_px) return false;
  const double mottle = (region.own_colour ? kAboveMottleOwnColour : kAboveMottle) * rule.mottle_rel;
  const double ground = (region.own_colour ? kAboveGroundOwnColour : kAboveGround) * region.spread_ground;
  const double uneven = region.own_colour ? kUnevenPlateauOwnColour : kUnevenPlateau;
  const double needed = std::max({kLeastContrast, mottle, ground, kAboveNoise * rule.noise_rel}) *
                        (1.0 + std::pow(region.soft_mm / kSoftFlank_mm, 2.0));
  return region.height > needed && region.plateau > kAboveLevel * needed &&
         region.spread_inside < uneven * region.height;
}

void MottlePopulation::add(double area_px, double height, double weight) {
  const auto larger =
      std::upper_bound(members_.begin(), members_.end(), area_px, [](double area, const Member& member) {
        return area < member.area_px;
      });
  members_.insert(larger, {area_px, height, weight});
}

double MottlePopulation::limit(double area_px) const {
  std::vector<Member> near;
  double number = 0.0;
  for (const Member& member : members_) {
    if (member.area_px * kSameSize * kSameSize < area_px) continue;
    if (member.area_px > kFarLarger * kFarLarger * area_px && number >= kEnoughMembers) break;
    near.push_back(member);
    number += member.weight;
  }
  if (number < kEnoughMembers) return 0.0;
  std::sort(near.begin(), near.end(), [](const Member& a, const Member& b) { return a.height < b.height; });
  const auto quantile = [&](double share) {
    double below = 0.0;
    for (const Member& member : near) {
      below += member.weight;
      if (below >= share * number) return member.height;
    }
    return near.back().height;
  };
  const double median = quantile(0.5);
  return median + kTail * std::log(number / kFalseAlarms) * (quantile(0.9) - median);
}

}  // namespace corefleck
