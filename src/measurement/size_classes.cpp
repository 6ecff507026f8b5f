#include "size_classes.hpp"

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

// sqrt 2, or the R series of preferred numbers (ISO 3, ISO 9276-1): 10^(1/5), 10^(1/10), 10^(1/20).
double ratio_of(SizeClasses progression) {
  switch (progression) {
    case SizeClasses::r5:
      return std::pow(10.0, 1.0 / 5.0);
    case SizeClasses::r10:
      return std::pow(10.0, 1.0 / 10.0);
    case SizeClasses::r20:
      return std::pow(10.0, 1.0 / 20.0);
    case SizeClasses::sqrt2:
      break;
  }
  return std::sqrt(2.0);
}

int class_of(double ecd_mm, double ratio) {
  return static_cast<int>(std::floor(std::log(ecd_mm) / std::log(ratio) + 1e-12));
}

}  // namespace

std::vector<SizeClass> size_classes(const std::vector<SpotFigures>& spots, SizeClasses progression) {
  if (spots.empty()) return {};
  const double ratio = ratio_of(progression);
  int first = class_of(spots.front().ecd.number(), ratio), last = first;
  double total = 0.0;
  for (const SpotFigures& spot : spots) {
    const int k = class_of(spot.ecd.number(), ratio);
    first = std::min(first, k);
    last = std::max(last, k);
    total += spot.area.value.number();
  }
  std::vector<SizeClass> classes;
  for (int k = first; k <= last; ++k)
    classes.push_back({Millimetres{std::pow(ratio, k)},
                       Millimetres{std::pow(ratio, k + 1)},
                       0,
                       0.0,
                       SquareMillimetres{},
                       0.0});
  for (const SpotFigures& spot : spots) {
    SizeClass& c = classes[static_cast<std::size_t>(class_of(spot.ecd.number(), ratio) - first)];
    c.count += 1;
    c.area = c.area + spot.area.value;
  }
  for (SizeClass& c : classes) {
    c.count_pct = 100.0 * c.count / static_cast<double>(spots.size());
    c.area_pct = total > 0.0 ? 100.0 * c.area.number() / total : 0.0;
  }
  return classes;
}

}  // namespace corefleck
