#include "contrast_plot.hpp"

#include "lettering.hpp"
#include "number_text.hpp"

#include "corefleck/colorimetry.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <vector>

namespace corefleck {
namespace {

constexpr TextStyle kAxisText{.size_px = kSmallSize, .bold = false, .colour = kMuted};
constexpr double kStrip = 46.0;  // beside each axis, for spots of one state

void line(cairo_t* cairo, cv::Point2d from, cv::Point2d to, const Ink& colour, double width) {
  cairo_move_to(cairo, from.x, from.y);
  cairo_line_to(cairo, to.x, to.y);
  set_ink(cairo, colour);
  cairo_set_line_width(cairo, width);
  cairo_stroke(cairo);
}

struct Dot {
  std::optional<double> dry, wet;
  double area_mm2;
};

std::vector<Dot> dots_of(const StateContrast& contrast, bool as_lightness) {
  std::vector<Dot> dots;
  for (const SpotStates& spot : contrast.spots) {
    Dot dot{};
    if (as_lightness) {
      if (spot.contrast_dry) dot.dry = spot.contrast_dry->number();
      if (spot.contrast_wet) dot.wet = spot.contrast_wet->number();
    } else {
      dot.dry = spot.weber_dry;
      dot.wet = spot.weber_wet;
    }
    dot.area_mm2 = spot.area_dry ? spot.area_dry->number() : spot.area_wet ? spot.area_wet->number() : 0.0;
    if (!spot.measurable && !(dot.dry && dot.wet)) continue;
    if (dot.dry || dot.wet) dots.push_back(dot);
  }
  return dots;
}

double tick_step(double largest) {
  for (double decade = 0.01;; decade *= 10.0)
    for (const double factor : {1.0, 2.0, 5.0})
      if (factor * decade * 6.0 >= largest) return factor * decade;
}

struct Axes {
  PageBox plot;  // the square inside the strips
  double top;    // largest value
  [[nodiscard]] double x(double value) const { return plot.x + value / top * plot.width; }
  [[nodiscard]] double y(double value) const { return plot.y + plot.height - value / top * plot.height; }
};

void draw_axes(cairo_t* cairo, const Axes& axes, double step, bool as_lightness) {
  const PageBox& p = axes.plot;
  for (double value = 0.0; value <= axes.top + 1e-9; value += step) {
    const std::string text = fixed(value, step < 0.1 ? 2 : step < 1.0 ? 1 : 0);
    line(cairo, {axes.x(value), p.y}, {axes.x(value), p.y + p.height + kStrip}, kRule, 1.0);
    line(cairo, {p.x - kStrip, axes.y(value)}, {p.x + p.width, axes.y(value)}, kRule, 1.0);
    write_text(
        cairo, kAxisText, {axes.x(value), p.y + p.height + kStrip + 8.0, Align::centre, {}, false}, text);
    write_text(cairo,
               kAxisText,
               {p.x - kStrip - 10.0, axes.y(value) - 0.6 * kSmallSize, Align::right, {}, false},
               text);
  }
  line(cairo, {p.x, p.y + p.height}, {p.x + p.width, p.y}, kMuted, 1.5);
  line(cairo, {p.x, p.y}, {p.x, p.y + p.height}, kText, 1.5);
  line(cairo, {p.x, p.y + p.height}, {p.x + p.width, p.y + p.height}, kText, 1.5);
  const char* unit = as_lightness ? "ΔL*" : "Weber";
  write_text(cairo,
             kAxisText,
             {p.x + 0.5 * p.width, p.y + p.height + kStrip + 40.0, Align::centre, {}, false},
             fmt::format("contrast dry, {}", unit));
  write_text(cairo,
             kAxisText,
             {p.x - kStrip - 84.0, p.y - 40.0, Align::left, {}, false},
             fmt::format("contrast wet, {}", unit));
  write_text(
      cairo,
      kAxisText,
      {p.x + p.width - 10.0, p.y + p.height + 0.5 * kStrip - 0.6 * kSmallSize, Align::right, {}, false},
      "seen dry only");
  cairo_save(cairo);
  cairo_translate(cairo, p.x - 0.5 * kStrip, p.y + 10.0);
  cairo_rotate(cairo, -0.5 * std::numbers::pi);
  write_text(cairo, kAxisText, {0.0, -0.6 * kSmallSize, Align::right, {}, false}, "seen wet only");
  cairo_restore(cairo);
}

void draw_dot(cairo_t* cairo, double x, double y, double area_mm2, bool both) {
  const double radius = std::clamp(3.0 + 2.6 * std::sqrt(area_mm2), 5.0, 20.0);
  cairo_new_path(cairo);
  cairo_arc(cairo, x, y, radius, 0.0, 2.0 * std::numbers::pi);
  set_ink(cairo, both ? ink(0xAEB9C1, 0.75) : ink(0xFFFFFF, 0.9));
  cairo_fill_preserve(cairo);
  set_ink(cairo, kText);
  cairo_set_line_width(cairo, 1.6);
  cairo_stroke(cairo);
}

}  // namespace

void draw_contrast_plot(cairo_t* cairo, const PageBox& box, const StateContrast& contrast) {
  const bool as_lightness = contrast.gain.has_value();
  const std::vector<Dot> dots = dots_of(contrast, as_lightness);
  write_text(cairo,
             {.size_px = kHeadingSize, .bold = true, .colour = kText},
             {box.x, box.y, Align::left, {}, false},
             "Each spot's contrast, dry against wet");
  if (dots.empty()) {
    write_text(cairo, {.colour = kMuted}, {box.x, box.y + 50.0, Align::left, {}, false}, "No spots.");
    return;
  }
  double largest = 0.0;
  for (const Dot& dot : dots) largest = std::max({largest, dot.dry.value_or(0.0), dot.wet.value_or(0.0)});
  const double step = tick_step(std::max(largest, 0.01));
  const double side = std::min(box.width - 190.0, box.height - 190.0);
  const Axes axes{{box.x + 150.0, box.y + 92.0, side, side}, step * std::ceil(largest / step)};
  draw_axes(cairo, axes, step, as_lightness);
  const double below = axes.plot.y + side + 0.5 * kStrip, beside = axes.plot.x - 0.5 * kStrip;
  for (const Dot& dot : dots)
    draw_dot(cairo,
             dot.dry ? axes.x(std::max(*dot.dry, 0.0)) : beside,
             dot.wet ? axes.y(std::max(*dot.wet, 0.0)) : below,
             dot.area_mm2,
             dot.dry && dot.wet);
  write_text(cairo,
             kAxisText,
             {axes.plot.x + 16.0, axes.plot.y + 8.0, Align::left, side - 120.0, false},
             "above the line: stands out more when wet");
}

void draw_lightness_scale(cairo_t* cairo, const PageBox& box, double gain) {
  constexpr int kSteps = 10;
  const double width = (box.width - 60.0) / kSteps;
  write_text(cairo, kAxisText, {box.x, box.y + 6.0, Align::left, {}, false}, "L*");
  for (int i = 0; i < kSteps; ++i) {
    const double L = 10.0 * i + 5.0;
    const double shown = linear_to_srgb(std::clamp(gain * relative_luminance(Lightness{L}), 0.0, 1.0));
    cairo_rectangle(cairo, box.x + 50.0 + i * width, box.y, width, box.height);
    set_ink(cairo, {shown, shown, shown});
    cairo_fill_preserve(cairo);
    set_ink(cairo, kMuted);
    cairo_set_line_width(cairo, 1.0);
    cairo_stroke(cairo);
  }
  for (int i = 0; i <= kSteps; ++i)
    write_text(cairo,
               kAxisText,
               {box.x + 50.0 + i * width, box.y + box.height + 6.0, Align::centre, {}, false},
               fmt::format("{}", 10 * i));
}

}  // namespace corefleck
