#include "usual_looks.hpp"

#include "corefleck/statistics.hpp"

#include <algorithm>

namespace corefleck {
namespace {

constexpr double kFaintOrLight = 0.7;  // of the height of the lowest and the highest tenth
constexpr double kUneven = 3.0;        // spots reach 2.2, chips begin at 3.3
constexpr double kCompact = 0.85;      // form factor

/// The value that this share of them do not reach. `sorted` rises and is not empty.
double quantile_of(const std::vector<double>& sorted, double share) {
  return sorted[static_cast<std::size_t>(share * static_cast<double>(sorted.size() - 1))];
}

}  // namespace

double height_of(const Region& region) { return region.plateau / std::max(region.ground, 1e-9) - 1.0; }

double form_factor_of(const Region& region) { return form_factor(region.area_px, region.outline); }

bool UsualLooks::fit(const Outlined& region) const {
  const double height = height_of(region.region);
  return number > 0 && height >= kFaintOrLight * low && height <= high / kFaintOrLight &&
         region.unevenness <= kUneven * unevenness;
}

UsualLooks usual_looks(const std::vector<Outlined>& spots,
                       double point_px,
                       const std::function<bool(const Outlined&)>& is_doubtful) {
  std::vector<double> heights, clear, unevenness;
  for (const Outlined& spot : spots) {
    if (spot.region.touches_rim || is_doubtful(spot)) continue;
    heights.push_back(height_of(spot.region));
    unevenness.push_back(spot.unevenness);
    if (spot.region.area_px > point_px && form_factor_of(spot.region) > kCompact)
      clear.push_back(heights.back());
  }
  if (heights.empty()) return {};
  std::sort(heights.begin(), heights.end());
  std::sort(clear.begin(), clear.end());
  return {heights.size(),
          quantile_of(heights, 0.1),
          quantile_of(heights, 0.5),
          quantile_of(heights, 0.9),
          median(unevenness),
          clear.size(),
          clear.empty() ? 0.0 : quantile_of(clear, 0.8)};
}

}  // namespace corefleck
