#include "growth_svg.hpp"

#include "growth_frame.hpp"
#include "number_text.hpp"

#include "corefleck/utf8.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <iterator>

namespace corefleck {
namespace {

constexpr double kWidth = 720.0, kHeight = 316.0;
constexpr PlotArea kArea{52.0, 30.0, 638.0, 258.0};
constexpr int kMostDates = 7;

// Two cores differ in mark and dash, so that neither needs a colour.
constexpr std::array<std::string_view, 4> kMarks{"M-4.6 0a4.6 4.6 0 1 0 9.2 0a4.6 4.6 0 1 0 -9.2 0Z",
                                                 "M-4.2 -4.2H4.2V4.2H-4.2Z",
                                                 "M0 -5.6L5.4 4.2H-5.4Z",
                                                 "M0 -6L6 0L0 6L-6 0Z"};
constexpr std::array<std::string_view, 3> kDashes{"none", "9 4", "9 3 2 3"};

std::string at(double value) { return fixed(value, 1); }

Json ticks_json(const std::vector<Tick>& ticks, const auto& place) {
  Json list = Json::array();
  for (const Tick& tick : ticks) list.push_back({{"at", at(place(tick.at))}, {"words", tick.label}});
  return list;
}

/// The interval of the line, from its first visit to its last.
std::string band_path(const GrowthFrame& frame, const CoreReport& core) {
  constexpr int kSteps = 40;
  const GrowthRate& rate = core.growth->rate;
  const double start = frame.start_of(core);
  std::string path;
  const auto edge = [&](int step, double side) {
    const double years = rate.last_visit_years * step / kSteps;
    // The axis ends at 0, since no area fraction lies below.
    const double y =
        frame.y(std::max(frame.values.from, rate.line.at(years) + side * rate.line_u95_at(years)));
    fmt::format_to(
        std::back_inserter(path), "{}{} {}", path.empty() ? 'M' : 'L', at(frame.x(start + years)), at(y));
  };
  for (int step = 0; step <= kSteps; ++step) edge(step, 1.0);
  for (int step = kSteps; step >= 0; --step) edge(step, -1.0);
  return path + 'Z';
}

Json points_json(const GrowthFrame& frame, const CoreReport& core, double aside) {
  Json list = Json::array();
  for (const ReportedVisit& visit : core.visits) {
    const double value = visit.area_fraction.value.number(), u95 = u95_of(visit);
    const ReadingText text = reading(value, u95);
    list.push_back({{"x", at(frame.x(years_between(frame.origin, visit.date)) + aside)},
                    {"y", at(frame.y(value))},
                    {"above", at(frame.y(value + u95))},
                    {"below", at(frame.y(std::max(frame.values.from, value - u95)))},
                    {"words", fmt::format("{}: {} ± {} %", text_of(visit.date), text.value, text.u95)}});
  }
  return list;
}

Json series_json(const GrowthFrame& frame, const CoreReport& core, std::size_t index, double aside) {
  const GrowthRate& rate = core.growth->rate;
  const double start = frame.start_of(core);
  return {{"core", valid_utf8(core.core)},
          {"rate", rate_words(rate, "% of the face a year")},
          {"mark", kMarks[index % kMarks.size()]},
          {"filled", index / kMarks.size() % 2 == 0},
          {"dash", kDashes[index % kDashes.size()]},
          {"band", band_path(frame, core)},
          {"x1", at(frame.x(start))},
          {"y1", at(frame.y(rate.line.at(0.0)))},
          {"x2", at(frame.x(start + rate.last_visit_years))},
          {"y2", at(frame.y(rate.line.at(rate.last_visit_years)))},
          {"points", points_json(frame, core, aside)}};
}

std::string label_of(std::span<const CoreReport> cores) {
  std::string label = "Spot area fraction against date, with 95 % intervals.";
  for (const CoreReport& core : cores)
    label += fmt::format(" Core {}: {} visits, {}.",
                         valid_utf8(core.core),
                         core.visits.size(),
                         rate_words(core.growth->rate, "% of the face a year"));
  return label;
}

}  // namespace

Json growth_svg(std::span<const CoreReport> cores) {
  const GrowthFrame frame = growth_frame(cores, kArea, kMostDates);
  // Cores seen on the same day would hide each other's bars.
  const double apart = std::min(7.0, 24.0 / static_cast<double>(cores.size()));
  Json series = Json::array();
  for (std::size_t i = 0; i < cores.size(); ++i)
    series.push_back(series_json(
        frame, cores[i], i, apart * (static_cast<double>(i) - 0.5 * static_cast<double>(cores.size() - 1))));
  return {{"width", at(kWidth)},
          {"height", at(kHeight)},
          {"left", at(kArea.left)},
          {"right", at(kArea.left + kArea.width)},
          {"top", at(kArea.top)},
          {"bottom", at(frame.bottom())},
          {"dates_y", at(frame.bottom() + 18.0)},
          {"label", label_of(cores)},
          {"axis_words", value_axis_words(frame)},
          {"values", ticks_json(frame.values.ticks, [&](double value) { return frame.y(value); })},
          {"dates", ticks_json(frame.dates.ticks, [&](double years) { return frame.x(years); })},
          {"several", cores.size() > 1},
          {"series", std::move(series)}};
}

}  // namespace corefleck
