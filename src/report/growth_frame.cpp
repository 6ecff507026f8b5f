#include "growth_frame.hpp"

#include "number_text.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace corefleck {

double u95_of(const ReportedVisit& visit) { return kCoverage95 * visit.area_fraction.u.number(); }

GrowthFrame growth_frame(std::span<const CoreReport> cores, const PlotArea& area, int most_dates) {
  Date first = cores[0].visits.front().date, last = first;
  double low = 1e300, high = -1e300;
  for (const CoreReport& core : cores)
    for (const ReportedVisit& visit : core.visits) {
      first = std::min(first, visit.date);
      last = std::max(last, visit.date);
      const double value = visit.area_fraction.value.number(), u95 = u95_of(visit);
      low = std::min(low, std::max(0.0, value - u95));
      high = std::max(high, value + u95);
      const double years = years_between(core.visits.front().date, visit.date);
      const GrowthRate& rate = core.growth->rate;
      high = std::max(high, rate.line.at(years) + rate.line_u95_at(years));
    }
  return {area.left,
          area.top,
          area.width,
          area.height,
          date_axis(first, last, most_dates),
          value_axis(low, high),
          first};
}

std::string value_axis_words(const GrowthFrame& frame) {
  std::string words = "spot area fraction, %";
  if (frame.values.from > 0.0)
    words += fmt::format("  (the axis begins at {})", frame.values.ticks.front().label);
  return words;
}

std::string rate_words(const GrowthRate& rate, std::string_view unit) {
  const ReadingText text = reading(rate.line.slope, rate.rate_u95);
  return fmt::format("{}{} ± {} {}", rate.line.slope > 0.0 ? "+" : "", text.value, text.u95, unit);
}

std::string verdict(const GrowthRate& rate) {
  if (rate.grows()) return "grows";
  return rate.shrinks() ? "shrinks" : "no change beyond the uncertainty";
}

}  // namespace corefleck
