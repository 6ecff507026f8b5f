#pragma once

#include "plot_axes.hpp"

#include "corefleck/growth_report.hpp"

#include <span>
#include <string>

namespace corefleck {

/// Where a plot of area fraction against date lies, in its own units, and what its axes hold.
struct GrowthFrame {
  double left, top, width, height;
  Axis dates, values;
  Date origin;  ///< of the dates' axis
  [[nodiscard]] double x(double years) const { return left + width * dates.share(years); }
  [[nodiscard]] double y(double value) const { return top + height * (1.0 - values.share(value)); }
  [[nodiscard]] double bottom() const { return top + height; }
  /// Years from the plot's origin to the core's own.
  [[nodiscard]] double start_of(const CoreReport& core) const {
    return years_between(origin, core.visits.front().date);
  }
};

struct PlotArea {
  double left, top, width, height;
};

/// Holds every visit of cores that have a line, with its interval, and the lines with theirs. `most_dates`:
/// as many ticks as there is room for.
[[nodiscard]] GrowthFrame growth_frame(std::span<const CoreReport> cores,
                                       const PlotArea& area,
                                       int most_dates);

[[nodiscard]] double u95_of(const ReportedVisit& visit);
/// "spot area fraction, %", and where the axis begins if not at 0.
[[nodiscard]] std::string value_axis_words(const GrowthFrame& frame);
/// "+0.44 ± 0.10 % a year" with that unit.
[[nodiscard]] std::string rate_words(const GrowthRate& rate, std::string_view unit);
/// "grows", "shrinks" or that it does neither beyond the uncertainty.
[[nodiscard]] std::string verdict(const GrowthRate& rate);

}  // namespace corefleck
