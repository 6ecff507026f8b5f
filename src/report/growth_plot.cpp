#include "drawn_page.hpp"
#include "growth_frame.hpp"
#include "lettering.hpp"
#include "number_text.hpp"

#include "corefleck/growth_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace corefleck {
namespace {

// Two cores differ in mark, dash and ink, so that a grey print still tells them apart.
enum class Mark { disc, square, triangle, diamond };
constexpr int kMarks = 4;
constexpr std::array kInks{
    ink(0x1F4E79), ink(0xA8501C), ink(0x4B6F27), ink(0x74398A), ink(0x7D6400), ink(0x006A73)};
constexpr std::array<std::array<double, 4>, 3> kDashes{
    {{1.0, 0.0, 1.0, 0.0}, {20.0, 10.0, 20.0, 10.0}, {20.0, 8.0, 4.0, 8.0}}};

struct SeriesStyle {
  Mark mark;
  bool filled;
  Ink colour;
  std::size_t dash;
};
SeriesStyle series_style(std::size_t index) {
  return {static_cast<Mark>(index % kMarks),
          index / kMarks % 2 == 0,
          kInks[index % kInks.size()],
          index % kDashes.size()};
}

constexpr double kTop = 214.0, kLeft = 150.0, kRight = kPlateWidth - kMargin, kPlotHeight = 730.0;
constexpr double kKeyWidth = 560.0, kKeyRow = 92.0;
constexpr TextStyle kAxisText{.size_px = kTextSize, .bold = false, .colour = kText};
constexpr TextStyle kNote{.size_px = kSmallSize, .bold = false, .colour = kMuted};

TextPlace at(double x, double y, Align align = Align::left) { return {x, y, align, {}, false}; }

GrowthFrame plot_frame(std::span<const CoreReport> cores, double width) {
  return growth_frame(cores, {kLeft, kTop, width, kPlotHeight}, static_cast<int>(width / 170.0));
}

void stroke_line(
    cairo_t* cairo, double x1, double y1, double x2, double y2, const Ink& colour, double width) {
  cairo_move_to(cairo, x1, y1);
  cairo_line_to(cairo, x2, y2);
  set_ink(cairo, colour);
  cairo_set_line_width(cairo, width);
  cairo_stroke(cairo);
}

void draw_axes(cairo_t* cairo, const GrowthFrame& frame) {
  for (const Tick& tick : frame.values.ticks) {
    const double y = std::round(frame.y(tick.at)) + 0.5;
    stroke_line(cairo, frame.left, y, frame.left + frame.width, y, kRule, 1.5);
    write_text(cairo, kAxisText, at(frame.left - 16.0, y - 0.6 * kTextSize, Align::right), tick.label);
  }
  for (const Tick& tick : frame.dates.ticks) {
    const double x = frame.x(tick.at);
    stroke_line(cairo, x, frame.bottom(), x, frame.bottom() + 12.0, kText, 2.0);
    write_text(cairo, kAxisText, at(x, frame.bottom() + 18.0, Align::centre), tick.label);
  }
  stroke_line(cairo, frame.left, frame.bottom(), frame.left + frame.width, frame.bottom(), kText, 2.5);
  write_text(cairo, kAxisText, at(frame.left - 90.0, frame.top - 50.0), value_axis_words(frame));
}

void draw_band(cairo_t* cairo, const GrowthFrame& frame, const CoreReport& core, const Ink& colour) {
  const GrowthRate& rate = core.growth->rate;
  const double start = frame.start_of(core);
  constexpr int kSteps = 60;
  const auto edge = [&](int step, double side) {
    const double years = rate.last_visit_years * step / kSteps;
    cairo_line_to(
        cairo, frame.x(start + years), frame.y(rate.line.at(years) + side * rate.line_u95_at(years)));
  };
  cairo_save(cairo);
  cairo_rectangle(cairo, frame.left, frame.top, frame.width, frame.height);
  cairo_clip(cairo);  // the axis ends at 0, since no area fraction lies below
  cairo_new_path(cairo);
  for (int step = 0; step <= kSteps; ++step) edge(step, 1.0);
  for (int step = kSteps; step >= 0; --step) edge(step, -1.0);
  cairo_close_path(cairo);
  set_ink(cairo, {colour.red, colour.green, colour.blue, 0.14});
  cairo_fill(cairo);
  cairo_restore(cairo);
}

void set_dash(cairo_t* cairo, std::size_t dash) {
  if (dash == 0)
    cairo_set_dash(cairo, nullptr, 0, 0.0);
  else
    cairo_set_dash(cairo, kDashes[dash].data(), static_cast<int>(kDashes[dash].size()), 0.0);
}

void draw_fit(cairo_t* cairo, const GrowthFrame& frame, const CoreReport& core, const SeriesStyle& style) {
  const GrowthRate& rate = core.growth->rate;
  const double start = frame.start_of(core);
  set_dash(cairo, style.dash);
  stroke_line(cairo,
              frame.x(start),
              frame.y(rate.line.at(0.0)),
              frame.x(start + rate.last_visit_years),
              frame.y(rate.line.at(rate.last_visit_years)),
              style.colour,
              4.0);
  set_dash(cairo, 0);
}

void trace_mark(cairo_t* cairo, Mark mark, double x, double y) {
  constexpr double kHalf = 11.0;
  const auto polygon = [&](int corners, double first_angle, double radius) {
    for (int corner = 0; corner < corners; ++corner) {
      const double angle = first_angle + 2.0 * std::numbers::pi * corner / corners;
      cairo_line_to(cairo, x + radius * std::cos(angle), y - radius * std::sin(angle));
    }
    cairo_close_path(cairo);
  };
  cairo_new_path(cairo);
  switch (mark) {
    case Mark::disc:
      cairo_arc(cairo, x, y, kHalf, 0.0, 2.0 * std::numbers::pi);
      return;
    case Mark::square:
      return polygon(4, 0.25 * std::numbers::pi, 1.3 * kHalf);
    case Mark::triangle:
      return polygon(3, 0.5 * std::numbers::pi, 1.4 * kHalf);
    case Mark::diamond:
      return polygon(4, 0.0, 1.4 * kHalf);
  }
}

void draw_mark(cairo_t* cairo, const SeriesStyle& style, double x, double y) {
  trace_mark(cairo, style.mark, x, y);
  set_ink(cairo, style.filled ? style.colour : kPaper);
  cairo_fill_preserve(cairo);
  set_ink(cairo, style.colour);
  cairo_set_line_width(cairo, 3.5);
  cairo_stroke(cairo);
}

void draw_points(cairo_t* cairo,
                 const GrowthFrame& frame,
                 const CoreReport& core,
                 const SeriesStyle& style,
                 double aside) {
  constexpr double kCap = 10.0;
  for (const ReportedVisit& visit : core.visits) {
    const double x = frame.x(years_between(frame.origin, visit.date)) + aside;
    const double value = visit.area_fraction.value.number(), u95 = u95_of(visit);
    const double above = frame.y(value + u95), below = frame.y(std::max(frame.values.from, value - u95));
    stroke_line(cairo, x, above, x, below, style.colour, 3.0);
    stroke_line(cairo, x - kCap, above, x + kCap, above, style.colour, 3.0);
    stroke_line(cairo, x - kCap, below, x + kCap, below, style.colour, 3.0);
    draw_mark(cairo, style, x, frame.y(value));
  }
}

void draw_title(cairo_t* cairo, const std::string& title, const std::string& words) {
  write_text(cairo,
             {.size_px = kTitleSize, .bold = true, .colour = kText},
             {kMargin, 44.0, Align::left, kRight - kMargin, true},
             title);
  write_text(cairo, {.size_px = kHeadingSize, .bold = false, .colour = kText}, at(kMargin, 104.0), words);
}

double draw_foot(cairo_t* cairo, double y, const std::string& words, const std::string& version) {
  stroke_line(cairo, kMargin, y, kRight, y, kRule, 2.0);
  const TextPlace place{kMargin, y + 18.0, Align::left, kRight - kMargin - 260.0, false};
  const double height = write_text(cairo, kNote, place, words).height;
  write_text(cairo, kNote, at(kRight, y + 18.0, Align::right), fmt::format("corefleck {}", version));
  return y + 18.0 + height;
}

/// Gives back the page's height.
double draw_one_core(cairo_t* cairo, const CoreReport& core, const std::string& version) {
  const GrowthRate& rate = core.growth->rate;
  std::string words =
      fmt::format("{} (95 % interval): {}", rate_words(rate, "% of the face a year"), verdict(rate));
  if (rate.doubling_time_years)
    words += fmt::format(". At that rate, twice the first value after {} years",
                         significant(*rate.doubling_time_years, 2));
  draw_title(cairo, "Core " + core.core, words);
  const GrowthFrame frame = plot_frame({&core, 1}, kRight - kLeft);
  const SeriesStyle style = series_style(0);
  draw_axes(cairo, frame);
  draw_band(cairo, frame, core, style.colour);
  draw_fit(cairo, frame, core, style);
  draw_points(cairo, frame, core, style, 0.0);
  return draw_foot(
      cairo,
      frame.bottom() + 84.0,
      "Points: area fraction measured at each visit, bars their 95 % intervals. Line: weighted least "
      "squares, "
      "shaded its 95 % interval, from what differs between photos of one face. It says how the spots changed "
      "between these dates: not why, and nothing about other dates.",
      version);
}

double draw_key(cairo_t* cairo, std::span<const CoreReport> cores) {
  const double x = kRight - kKeyWidth + 50.0;
  double y = kTop - 20.0;
  for (std::size_t i = 0; i < cores.size(); ++i, y += kKeyRow) {
    const SeriesStyle style = series_style(i);
    set_dash(cairo, style.dash);
    stroke_line(cairo, x, y + 18.0, x + 84.0, y + 18.0, style.colour, 4.0);
    set_dash(cairo, 0);
    draw_mark(cairo, style, x + 42.0, y + 18.0);
    const double text_x = x + 108.0;
    write_text(cairo,
               {.size_px = kTextSize, .bold = true, .colour = kText},
               {text_x, y, Align::left, kRight - text_x, true},
               cores[i].core);
    write_text(cairo,
               kNote,
               {text_x, y + 32.0, Align::left, kRight - text_x, true},
               rate_words(cores[i].growth->rate, "% a year"));
  }
  return y;
}

double draw_all_cores(cairo_t* cairo, std::span<const CoreReport> cores, const std::string& version) {
  draw_title(
      cairo,
      "All cores",
      fmt::format("Spot area fraction of {} cores. Rates in % of the face a year, with their 95 % intervals",
                  cores.size()));
  const GrowthFrame frame = plot_frame(cores, kRight - kKeyWidth - kLeft);
  draw_axes(cairo, frame);
  // Cores seen on the same day would hide each other's bars.
  const double apart = std::min(10.0, 30.0 / static_cast<double>(cores.size()));
  for (std::size_t i = 0; i < cores.size(); ++i) draw_fit(cairo, frame, cores[i], series_style(i));
  for (std::size_t i = 0; i < cores.size(); ++i)
    draw_points(cairo,
                frame,
                cores[i],
                series_style(i),
                apart * (static_cast<double>(i) - 0.5 * static_cast<double>(cores.size() - 1)));
  const double key_end = draw_key(cairo, cores);
  return draw_foot(cairo,
                   std::max(frame.bottom() + 84.0, key_end + 20.0),
                   "Points: area fraction measured at each visit, bars their 95 % intervals; points of one "
                   "day stand side by "
                   "side. Lines: weighted least squares, with the 95 % interval of their slope in the key. "
                   "They say how the "
                   "spots changed between these dates: not why, and nothing about other dates.",
                   version);
}

}  // namespace

Result<std::string> growth_plot_png(std::span<const CoreReport> cores, const std::string& program_version) {
  std::vector<CoreReport> with_line;
  for (const CoreReport& core : cores)
    if (core.growth) with_line.push_back(core);
  // Drawn on more paper than the plot and its key need, and cut where the text ends.
  const int paper =
      static_cast<int>(kTop + kPlotHeight + 400.0 + kKeyRow * static_cast<double>(with_line.size()));
  return drawn_page({"the growth plot", "free some memory", paper}, [&](cairo_t* cairo) {
    const double end = with_line.size() == 1 ? draw_one_core(cairo, with_line.front(), program_version)
                                             : draw_all_cores(cairo, with_line, program_version);
    return end + kMargin;
  });
}

}  // namespace corefleck
