#include "numbers.hpp"

#include "outlines.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace corefleck {
namespace {

// 18 px are 4.6 points in print: the least that reads without a lens.
constexpr std::array kLetterSizes{27.0, 24.0, 21.0, 18.0};

/// CV_8UC1 over the picture, non-zero where `draw` painted.
template <class Draw>
cv::Mat painted(const FaceFrame& frame, Draw draw) {
  const CairoSurface surface(cairo_image_surface_create(CAIRO_FORMAT_A8, frame.side_px, frame.side_px));
  const CairoContext cairo(cairo_create(surface.get()));
  cairo_translate(cairo.get(), -frame.left, -frame.top);
  draw(cairo.get());
  if (cairo_surface_status(surface.get()) != CAIRO_STATUS_SUCCESS)
    return cv::Mat::zeros(frame.side_px, frame.side_px, CV_8UC1);
  cairo_surface_flush(surface.get());
  return cv::Mat(frame.side_px,
                 frame.side_px,
                 CV_8UC1,
                 cairo_image_surface_get_data(surface.get()),
                 static_cast<std::size_t>(cairo_image_surface_get_stride(surface.get())))
      .clone();
}

void fill_area(cairo_t* cairo, const FaceFrame& frame, const Contour& outline, double line_px) {
  add_contour(cairo, frame, outline);
  cairo_set_line_width(cairo, line_px);
  cairo_fill_preserve(cairo);
  cairo_stroke(cairo);
}

void fill_regions(cairo_t* cairo,
                  const FaceFrame& frame,
                  const std::vector<Region>& regions,
                  double line_px) {
  for (const Region& region : regions) fill_area(cairo, frame, region.outline, line_px);
}

/// Pits and glare stay free of numbers too: an opposing expert will look at them as closely as at the spots.
FreeSpace free_space(const FaceFrame& frame, const SpotMap& spots) {
  const cv::Mat taken = painted(frame, [&](cairo_t* cairo) {
    fill_regions(cairo, frame, spots.spots, spot_style(spots.spots.size()).width_px + kCasingExtra);
    fill_regions(cairo, frame, spots.pits, pit_style().width_px + kCasingExtra);
    for (const Contour& glare : spots.glare)
      fill_area(cairo, frame, glare, glare_style().width_px + kCasingExtra);
  });
  return {taken, cv::Point2d(frame.left, frame.top)};
}

std::vector<NumberedSpot> wanted_numbers(const FaceFrame& frame, const std::vector<Region>& spots) {
  std::vector<NumberedSpot> wanted;
  for (const Region& spot : spots) {
    NumberedSpot entry{spot.id, {}, {}};
    for (const cv::Point2d& point : spot.outline) entry.outline.push_back(frame.of_grid(point));
    if (entry.outline.empty()) continue;
    const auto [left, right] = std::minmax_element(
        entry.outline.begin(), entry.outline.end(), [](const auto& a, const auto& b) { return a.x < b.x; });
    const auto [top, bottom] = std::minmax_element(
        entry.outline.begin(), entry.outline.end(), [](const auto& a, const auto& b) { return a.y < b.y; });
    entry.bounds = {left->x, top->y, right->x - left->x, bottom->y - top->y};
    wanted.push_back(std::move(entry));
  }
  return wanted;
}

void draw_leader(cairo_t* cairo, const PlacedNumber& number) {
  if (!number.leader) return;
  const auto& [from, to] = *number.leader;
  cairo_move_to(cairo, from.x, from.y);
  cairo_line_to(cairo, to.x, to.y);
  stroke_cased(cairo, {kSpotLine, LineStyle::solid, 1.4});
}

}  // namespace

SpotNumbers spot_numbers(cairo_t* cairo, const FaceFrame& frame, const SpotMap& spots) {
  SpotNumbers numbers;
  if (spots.spots.empty()) return numbers;
  const FreeSpace space = free_space(frame, spots);
  const std::vector<NumberedSpot> wanted = wanted_numbers(frame, spots.spots);
  for (const double size : kLetterSizes) {
    numbers.style = {.size_px = size, .bold = true, .colour = kSpotLine};
    // Digits stand 0.73 of the size high in DejaVu Sans, and the casing adds to both sides.
    const NumberRoom room{{frame.centre_x, frame.centre_y},
                          frame.radius - 3.0,
                          text_size(cairo, numbers.style, "0").width,
                          0.73 * size + 0.22 * size};
    numbers.placed = place_numbers(wanted, space, room);
    if (numbers.placed.size() == wanted.size()) break;
  }
  return numbers;
}

void draw_numbers(cairo_t* cairo, const SpotNumbers& numbers) {
  for (const PlacedNumber& number : numbers.placed) draw_leader(cairo, number);
  for (const PlacedNumber& number : numbers.placed)
    write_cased_text(cairo,
                     numbers.style,
                     number.box.x + 0.5 * number.box.width,
                     number.box.y + 0.5 * number.box.height,
                     fmt::format("{}", number.id));
}

}  // namespace corefleck
