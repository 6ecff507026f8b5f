#include "outlines.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>

namespace corefleck {
namespace {

// Outlines have two points a grid pixel. Cairo's time goes by their number, and joints nearer to each other
// than half a line's width cannot be seen.
constexpr double kShortestStep_px = 0.8;
constexpr std::array kHatched{Outside::rim_band, Outside::chip, Outside::edit};

void add_region(cairo_t* cairo, const FaceFrame& frame, const Region& region) {
  add_contour(cairo, frame, region.outline);
  for (const Contour& hole : region.holes) add_contour(cairo, frame, hole);
}

CairoSurface mask_surface(const cv::Mat& hits) {
  CairoSurface surface(cairo_image_surface_create(CAIRO_FORMAT_A8, hits.cols, hits.rows));
  if (cairo_surface_status(surface.get()) != CAIRO_STATUS_SUCCESS) return surface;
  cairo_surface_flush(surface.get());
  cv::Mat target(hits.rows,
                 hits.cols,
                 CV_8UC1,
                 cairo_image_surface_get_data(surface.get()),
                 static_cast<std::size_t>(cairo_image_surface_get_stride(surface.get())));
  hits.copyTo(target);
  cairo_surface_mark_dirty(surface.get());
  return surface;
}

/// One step of the hatching, to be repeated: lines right across the tile and past its corners join without a
/// seam.
CairoSurface hatch_tile(HatchStyle style, int step) {
  CairoSurface tile(cairo_image_surface_create(CAIRO_FORMAT_ARGB32, step, step));
  const CairoContext cairo(cairo_create(tile.get()));
  for (int shift = -step; shift <= step; shift += step) {
    if (style != HatchStyle::falling) {
      cairo_move_to(cairo.get(), shift - step, 2.0 * step);
      cairo_line_to(cairo.get(), shift + 2.0 * step, -step);
    }
    if (style != HatchStyle::rising) {
      cairo_move_to(cairo.get(), shift - step, -step);
      cairo_line_to(cairo.get(), shift + 2.0 * step, 2.0 * step);
    }
  }
  set_ink(cairo.get(), kHatch);
  cairo_set_line_width(cairo.get(), 1.7);
  cairo_stroke(cairo.get());
  return tile;
}

void set_hatch(cairo_t* cairo, HatchStyle style) {
  const int step = style == HatchStyle::falling ? 8 : style == HatchStyle::rising ? 12 : 14;
  const CairoSurface tile = hatch_tile(style, step);
  cairo_set_source_surface(cairo, tile.get(), 0.0, 0.0);
  cairo_pattern_set_extend(cairo_get_source(cairo), CAIRO_EXTEND_REPEAT);
  cairo_pattern_set_filter(cairo_get_source(cairo), CAIRO_FILTER_NEAREST);
}

void hatch_excluded(cairo_t* cairo, const FaceFrame& frame, const cv::Mat& outside) {
  if (outside.empty()) return;
  cv::Mat shrunk;
  const cv::Size size(static_cast<int>(outside.cols * frame.px_per_grid),
                      static_cast<int>(outside.rows * frame.px_per_grid));
  cv::resize(outside, shrunk, size, 0.0, 0.0, cv::INTER_NEAREST);
  cairo_save(cairo);
  cairo_arc(cairo, frame.centre_x, frame.centre_y, frame.radius, 0.0, 2.0 * std::numbers::pi);
  cairo_clip(cairo);
  for (const Outside value : kHatched) {
    const cv::Mat hits = shrunk == static_cast<unsigned char>(value);
    if (cv::countNonZero(hits) == 0) continue;
    set_hatch(cairo, *hatch_of(value));
    cairo_mask_surface(cairo, mask_surface(hits).get(), frame.left, frame.top);
    // The edge too: where a band runs along its own hatching, the hatching alone does not show where it ends.
    cv::Mat inner;
    cv::erode(hits, inner, cv::Mat());
    set_ink(cairo, kHatch);
    cairo_mask_surface(cairo, mask_surface(hits - inner).get(), frame.left, frame.top);
  }
  cairo_restore(cairo);
}

}  // namespace

std::optional<HatchStyle> hatch_of(Outside value) {
  switch (value) {
    case Outside::rim_band:
      return HatchStyle::rising;
    case Outside::chip:
      return HatchStyle::falling;
    case Outside::edit:
      return HatchStyle::crossed;
    case Outside::no:
    case Outside::beyond_rim:
    case Outside::glare:
      break;
  }
  return std::nullopt;
}

void draw_hatch(cairo_t* cairo, HatchStyle style, double x, double y, double width, double height) {
  set_hatch(cairo, style);
  cairo_rectangle(cairo, x, y, width, height);
  cairo_fill(cairo);
}

void set_line(cairo_t* cairo, const OutlineStyle& style, bool casing) {
  set_ink(cairo, casing ? kCasing : style.colour);
  cairo_set_line_width(cairo, style.width_px + (casing ? kCasingExtra : 0.0));
  cairo_set_line_join(cairo, CAIRO_LINE_JOIN_ROUND);
  cairo_set_line_cap(cairo, style.line == LineStyle::dotted ? CAIRO_LINE_CAP_ROUND : CAIRO_LINE_CAP_BUTT);
  constexpr std::array kDashes{10.0, 6.0};
  constexpr std::array kDots{0.0, 9.5};  // round caps make a dot of a dash without length
  if (casing || style.line == LineStyle::solid)
    cairo_set_dash(cairo, nullptr, 0, 0.0);
  else
    cairo_set_dash(cairo, style.line == LineStyle::dashed ? kDashes.data() : kDots.data(), 2, 0.0);
}

void stroke_cased(cairo_t* cairo, const OutlineStyle& style) {
  set_line(cairo, style, /*casing=*/true);
  cairo_stroke_preserve(cairo);
  set_line(cairo, style, /*casing=*/false);
  cairo_stroke(cairo);
  cairo_set_dash(cairo, nullptr, 0, 0.0);
}

void add_contour(cairo_t* cairo, const FaceFrame& frame, const Contour& contour) {
  if (contour.empty()) return;
  cairo_new_sub_path(cairo);
  std::optional<cv::Point2d> last;
  for (const cv::Point2d& point : contour) {
    const cv::Point2d at = frame.of_grid(point);
    if (last && std::hypot(at.x - last->x, at.y - last->y) < kShortestStep_px) continue;
    cairo_line_to(cairo, at.x, at.y);
    last = at;
  }
  cairo_close_path(cairo);
}

// Hundreds of small spots under a heavy line would show nothing but the line.
OutlineStyle spot_style(std::size_t spots) {
  return {kSpotLine, LineStyle::solid, spots > 150 ? 1.8 : spots > 60 ? 2.2 : 2.6};
}
OutlineStyle pit_style() { return {kPitLine, LineStyle::dashed, 2.4}; }
OutlineStyle glare_style() { return {kGlareLine, LineStyle::dotted, 4.4}; }

void draw_regions(cairo_t* cairo, const FaceFrame& frame, const SpotMap& spots) {
  hatch_excluded(cairo, frame, spots.outside);
  for (const Contour& glare : spots.glare) {
    add_contour(cairo, frame, glare);
    stroke_cased(cairo, glare_style());
  }
  for (const Region& pit : spots.pits) {
    add_region(cairo, frame, pit);
    stroke_cased(cairo, pit_style());
  }
  const OutlineStyle style = spot_style(spots.spots.size());
  for (const Region& spot : spots.spots) {
    add_region(cairo, frame, spot);
    stroke_cased(cairo, style);
  }
}

}  // namespace corefleck
