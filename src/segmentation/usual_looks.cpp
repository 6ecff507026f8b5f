#include "usual_looks.hpp"

#include "corefleck/statistics.hpp"

#include <algorithm>

namespace corefleck {
namespace {

constexpr double kFaintOrLight = 0.7;  // of the height of the lowest and the highest tenth
constexpr double kUneven = 3.0;        // spots reach 2.2, chips begin at 3.3

}  // namespace

double height_of(const Region& region) { return region.plateau / std::max(region.ground, 1e-9) - 1.0; }

bool UsualLooks::fit(const Outlined& region) const {
  const double height = height_of(region.region);
  return number > 0 && height >= kFaintOrLight * low && height <= high / kFaintOrLight &&
         region.unevenness <= kUneven * unevenness;
}

UsualLooks usual_looks(const std::vector<Outlined>& spots,
                       const std::function<bool(const Outlined&)>& is_doubtful) {
  std::vector<double> heights, unevenness;
  for (const Outlined& spot : spots)
    if (!spot.region.touches_rim && !is_doubtful(spot)) {
      heights.push_back(height_of(spot.region));
      unevenness.push_back(spot.unevenness);
    }
  if (heights.empty()) return {};
  std::sort(heights.begin(), heights.end());
  const auto at = [&](double share) {
    return heights[static_cast<std::size_t>(share * static_cast<double>(heights.size() - 1))];
  };
  return {heights.size(), at(0.1), at(0.5), at(0.9), median(unevenness)};
}

}  // namespace corefleck
