#include "plot_axes.hpp"

#include "number_text.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace corefleck {
namespace {

namespace ch = std::chrono;

constexpr double kUpperPart = 0.8;  // values above this share of the highest one: the axis is cut

/// Smallest step of 1, 2 or 5 times a power of ten that takes at most `most` steps to `span`.
double value_step(double span, int most) {
  double decade = std::pow(10.0, std::floor(std::log10(span / most)));
  for (;; decade *= 10.0)
    for (const double factor : {1.0, 2.0, 5.0})
      if (factor * decade * most >= span * (1.0 - 1e-9)) return factor * decade;
}

Date in_days(Date date, int days) { return {ch::sys_days(date) + ch::days(days)}; }

std::vector<Tick> day_ticks(Date origin, Date from, Date to, int step_days) {
  std::vector<Tick> ticks;
  for (Date date = origin; date <= to; date = in_days(date, step_days))
    if (date >= from) ticks.push_back({years_between(origin, date), text_of(date)});
  return ticks;
}

std::vector<Tick> month_ticks(Date origin, Date from, Date to, int step_months) {
  std::vector<Tick> ticks;
  const int first =
      12 * static_cast<int>(from.year()) + static_cast<int>(static_cast<unsigned>(from.month())) - 1;
  for (int month = first - first % step_months;; month += step_months) {
    const Date date{ch::year(month / 12), ch::month(static_cast<unsigned>(month % 12) + 1), ch::day(1)};
    if (date > to) return ticks;
    const std::string label = text_of(date).substr(0, step_months % 12 == 0 ? 4 : 7);
    if (date >= from) ticks.push_back({years_between(origin, date), label});
  }
}

/// The finest ticks that are not too many.
std::vector<Tick> date_ticks(Date origin, Date from, Date to, int most) {
  const auto fits = [most](const std::vector<Tick>& ticks) {
    return ticks.size() <= static_cast<std::size_t>(most);
  };
  for (const int days : {1, 2, 7, 14})
    if (auto ticks = day_ticks(origin, from, to, days); fits(ticks)) return ticks;
  for (const int months : {1, 2, 3, 6, 12, 24, 60, 120})
    if (auto ticks = month_ticks(origin, from, to, months); fits(ticks)) return ticks;
  return month_ticks(origin, from, to, 1200);
}

}  // namespace

Axis value_axis(double low, double high) {
  constexpr int kMost = 6;
  const double top = high > 0.0 ? high : 1.0;
  const bool cut = low > kUpperPart * top && high > low;
  const double bottom = cut ? low : std::min(0.0, low);
  const double step = value_step(top - bottom, kMost);
  Axis axis{step * std::floor(bottom / step + 1e-9), step * std::ceil(top / step - 1e-9), {}};
  const int decimals = std::clamp(static_cast<int>(std::ceil(-std::log10(step) - 1e-9)), 0, 9);
  const int steps = static_cast<int>(std::lround((axis.to - axis.from) / step));
  for (int i = 0; i <= steps; ++i)
    axis.ticks.push_back({axis.from + i * step, fixed(axis.from + i * step, decimals)});
  return axis;
}

Axis date_axis(Date first, Date last, int most) {
  const int span = static_cast<int>((ch::sys_days(last) - ch::sys_days(first)).count());
  const int room = std::max(1, static_cast<int>(std::lround(0.05 * span)));
  const Date from = in_days(first, -room), to = in_days(last, room);
  return {years_between(first, from), years_between(first, to), date_ticks(first, from, to, most)};
}

}  // namespace corefleck
