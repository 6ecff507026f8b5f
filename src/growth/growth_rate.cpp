#include "corefleck/growth.hpp"

#include <algorithm>
#include <cassert>

namespace corefleck {

GrowthRate growth_rate(std::span<const DatedFraction> visits) {
  assert(visits.size() >= 2);
  const Date first = visits.front().date;
  std::vector<LinePoint> points;
  for (const DatedFraction& visit : visits)
    points.push_back({years_between(first, visit.date), visit.fraction_pct, visit.u_pct});
  GrowthRate rate{};
  rate.line = fitted_line(points);
  if (rate.line.degrees_of_freedom > 0) rate.scatter = rate.line.scatter();
  rate.widening = std::max(1.0, rate.scatter.value_or(0.0));
  rate.rate_u95 = kCoverage95 * rate.widening * rate.line.u_slope;
  rate.last_visit_years = points.back().x;
  if (const double at_first = rate.line.at(0.0); rate.grows() && at_first > 0.0)
    rate.doubling_time_years = at_first / rate.line.slope;
  return rate;
}

}  // namespace corefleck
