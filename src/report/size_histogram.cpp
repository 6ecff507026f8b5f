#include "size_histogram.hpp"

#include "lettering.hpp"
#include "number_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr TextStyle kAxisText{.size_px = kSmallSize, .bold = false, .colour = kMuted};

void line(cairo_t* cairo, double x1, double y1, double x2, double y2, const Ink& colour, double width) {
  cairo_move_to(cairo, x1, y1);
  cairo_line_to(cairo, x2, y2);
  set_ink(cairo, colour);
  cairo_set_line_width(cairo, width);
  cairo_stroke(cairo);
}

/// Step of 1, 2 or 5 times a power of ten that divides the axis into five parts at most.
int tick_step(int largest) {
  for (int decade = 1;; decade *= 10)
    for (const int factor : {1, 2, 5})
      if (factor * decade * 5 >= largest) return factor * decade;
}

double count_axis(cairo_t* cairo, const PageBox& plot, int largest) {
  const int step = tick_step(largest);
  const int top = step * ((largest + step - 1) / step);
  const double px_per_spot = plot.height / top;
  for (int count = 0; count <= top; count += step) {
    const double y = std::round(plot.y + plot.height - count * px_per_spot) + 0.5;
    if (count > 0) line(cairo, plot.x, y, plot.x + plot.width, y, kRule, 1.0);
    write_text(cairo,
               kAxisText,
               {plot.x - 12.0, y - 0.6 * kSmallSize, Align::right, {}, false},
               fmt::format("{}", count));
  }
  return px_per_spot;
}

/// Every class limit where there is room for its text, else every second, and so on.
void size_axis(cairo_t* cairo, const PageBox& plot, const std::vector<SizeClass>& sizes, double class_width) {
  const auto classes = static_cast<int>(sizes.size());
  const int every = std::max(1, static_cast<int>(std::ceil(64.0 / class_width)));
  const double base = plot.y + plot.height;
  for (int limit = 0; limit <= classes; ++limit) {
    const double x = plot.x + limit * class_width;
    const bool labelled = limit % every == 0;
    line(cairo, x, base, x, base + (labelled ? 9.0 : 5.0), kText, 1.5);
    if (!labelled) continue;
    const Millimetres size =
        limit < classes ? sizes[static_cast<std::size_t>(limit)].ecd_from : sizes.back().ecd_to;
    write_text(cairo, kAxisText, {x, base + 12.0, Align::centre, {}, false}, significant(size.number(), 2));
  }
}

}  // namespace

void draw_size_histogram(cairo_t* cairo, const PageBox& box, const std::vector<SizeClass>& sizes) {
  if (sizes.empty()) {
    write_text(cairo, {.colour = kMuted}, {box.x, box.y, Align::left, {}, false}, "No spots.");
    return;
  }
  const PageBox plot{box.x + 62.0, box.y + 40.0, box.width - 92.0, box.height - 112.0};
  int largest = 1;
  for (const SizeClass& size : sizes) largest = std::max(largest, size.count);
  // A lone class as wide as the plot would look like a statement about its width.
  const double class_width = std::min(110.0, plot.width / static_cast<double>(sizes.size()));

  write_text(cairo, kAxisText, {box.x, box.y, Align::left, {}, false}, "spots");
  const double px_per_spot = count_axis(cairo, plot, largest);
  for (std::size_t i = 0; i < sizes.size(); ++i) {
    const double height = sizes[i].count * px_per_spot;
    cairo_rectangle(cairo,
                    plot.x + static_cast<double>(i) * class_width,
                    plot.y + plot.height - height,
                    class_width,
                    height);
    set_ink(cairo, kBars);
    cairo_fill_preserve(cairo);
    set_ink(cairo, kText);
    cairo_set_line_width(cairo, 1.5);
    if (sizes[i].count > 0) cairo_stroke(cairo);
    cairo_new_path(cairo);
  }
  line(cairo, plot.x, plot.y + plot.height, plot.x + plot.width, plot.y + plot.height, kText, 1.5);
  size_axis(cairo, plot, sizes, class_width);
  write_text(cairo,
             kAxisText,
             {plot.x + 0.5 * plot.width, box.y + box.height - 30.0, Align::centre, {}, false},
             "equivalent circular diameter, mm");
}

}  // namespace corefleck
