#include "mottle_population.hpp"

#include "corefleck/statistics.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

namespace corefleck {
namespace {

constexpr double kSameSize = 1.5;    // regions down to this much narrower count as of one size
constexpr double kLargerSpot = 2.0;  // and spots up to this much wider
constexpr double kFarLarger = 4.0;   // in width: stains and trowel marks, which tell nothing of grains
constexpr double kEnoughMembers = 20.0;
// Regions of mottle of one size that may pass for spots: a face has some three sizes, and one face in twenty
// may show such a spot.
constexpr double kFalseAlarms = 0.02;
constexpr double kFalseShare = 0.005;  // likewise, of the spots of one size
// Heights of mottle fall off like an exponential beyond their median, or faster. An exponential's scale is
// 1 / ln 5 = 0.62 of q90 - median; read off rendered faces of two renderers, 0.5 leaves 2 of 13 000.
constexpr double kScale = 0.5;
constexpr double kFewBeyond = 5.0;          // regions: where that tail leaves no more, spots may prevail
constexpr double kErrors = 2.0;             // standard errors by which its fall is taken as slower than seen
constexpr std::ptrdiff_t kEnoughSpots = 5;  // beyond it: a face without spots shows one or two now and then
constexpr double kThinWindow = 0.5;         // of the scale, in which the fall cannot be seen

/// Beyond `from` lie `number` regions, and 1 / e of them beyond each further `scale`.
struct Tail {
  double from, number, scale;

  /// Height beyond which so many are left.
  [[nodiscard]] double height_of(double left) const { return from + scale * std::log(number / left); }
};

/// `heights` rising.
double quantile(const std::vector<WeightedRegion>& heights, double number, double share) {
  double below = 0.0;
  for (const WeightedRegion& one : heights) {
    below += one.weight;
    if (below >= share * number) return one.height;
  }
  return heights.back().height;
}

/// The tail as its members show it from `from` to `to`; nothing where they do not.
std::optional<Tail> seen_tail(const std::vector<WeightedRegion>& heights, double from, double to) {
  double number = 0.0, sum = 0.0;
  int count = 0;
  for (const WeightedRegion& one : heights) {
    if (one.height <= from || one.height >= to) continue;
    number += one.weight;
    sum += one.weight * (one.height - from);
    ++count;
  }
  if (count == 0) return std::nullopt;
  const double scale = cut_exponential_scale(sum / number, to - from);
  const double error = 1.0 / std::sqrt(static_cast<double>(count));
  return Tail{from, std::max(number, kFewBeyond), scale * (1.0 + kErrors * error)};
}

std::ptrdiff_t number_above(const std::vector<WeightedRegion>& regions, double height) {
  return std::count_if(regions.begin(), regions.end(), [height](const WeightedRegion& region) {
    return region.height > height;
  });
}

bool is_alike(const LightRegion& spot, double area_px) {
  return spot.area_px * kSameSize * kSameSize >= area_px &&
         spot.area_px <= kLargerSpot * kLargerSpot * area_px;
}

/// How the heights of mottle of one size fall off: no slower than an exponential through their quantiles, and
/// faster where they are seen to.
struct Fall {
  Tail bound;
  std::optional<Tail> seen;

  [[nodiscard]] double height_of(double left) const {
    return seen ? std::min(bound.height_of(left), seen->height_of(left)) : bound.height_of(left);
  }
};

/// Of mottle and of spots of that size together: which of the lower ones are mottle is not known.
std::optional<Fall> fall_of(std::vector<WeightedRegion> mottle, const std::vector<WeightedRegion>& spots) {
  const auto lower = [](const WeightedRegion& a, const WeightedRegion& b) { return a.height < b.height; };
  double number = 0.0;
  for (const WeightedRegion& one : mottle) number += one.weight;
  if (number < kEnoughMembers) return std::nullopt;
  std::sort(mottle.begin(), mottle.end(), lower);
  const double median = quantile(mottle, number, 0.5), high = quantile(mottle, number, 0.9);
  Fall fall{{median, number, kScale * (high - median)}, std::nullopt};
  const double end = fall.bound.height_of(kFewBeyond);
  if (end - high > kThinWindow * fall.bound.scale) {
    mottle.insert(mottle.end(), spots.begin(), spots.end());
    fall.seen = seen_tail(mottle, high, end);
    if (fall.seen && number_above(spots, fall.seen->height_of(kFalseAlarms)) < kEnoughSpots)
      fall.seen.reset();
  }
  return fall;
}

}  // namespace

std::vector<WeightedRegion> MottlePopulation::near(double area_px) const {
  std::vector<WeightedRegion> near;
  double number = 0.0;
  for (const WeightedRegion& member : members_) {
    if (member.area_px * kSameSize * kSameSize < area_px) continue;
    if (member.area_px > kFarLarger * kFarLarger * area_px && number >= kEnoughMembers) break;
    near.push_back(member);
    number += member.weight;
  }
  return near;
}

void MottlePopulation::add(const WeightedRegion& region) {
  const auto larger = std::upper_bound(
      members_.begin(), members_.end(), region.area_px, [](double area, const WeightedRegion& member) {
        return area < member.area_px;
      });
  members_.insert(larger, region);
}

std::vector<double> MottlePopulation::limits(const std::vector<LightRegion>& spots) const {
  std::map<double, std::optional<Fall>> falls;
  std::vector<double> limits;
  for (const LightRegion& spot : spots) {
    std::vector<WeightedRegion> alike;
    for (const LightRegion& other : spots)
      if (is_alike(other, spot.area_px)) alike.push_back({other, 1.0});
    const auto known = falls.find(spot.area_px);
    const auto fall =
        known != falls.end() ? known : falls.emplace(spot.area_px, fall_of(near(spot.area_px), alike)).first;
    const auto as_high = static_cast<double>(1 + number_above(alike, spot.height));
    const double allowed = std::max(kFalseAlarms, kFalseShare * as_high);
    limits.push_back(fall->second ? fall->second->height_of(allowed) : 0.0);
  }
  return limits;
}

}  // namespace corefleck
