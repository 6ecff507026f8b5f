#include "outlines.hpp"

#include <algorithm>
#include <array>
#include <opencv2/imgproc.hpp>

namespace corefleck {
namespace {

constexpr std::array kHatched{Outside::rim_band, Outside::chip, Outside::edit};

void add_region(cairo_t* cairo, const FaceFrame& frame, const Region& region) {
  add_contour(cairo, frame, region.outline);
  for (const Contour& hole : region.holes) add_contour(cairo, frame, hole);
}

/// Opaque where the map has that value, at the plate's resolution; null when it has it nowhere.
CairoSurface mask_of(const cv::Mat& outside, Outside value) {
  const cv::Mat hits = outside == static_cast<unsigned char>(value);
  if (cv::countNonZero(hits) == 0) return nullptr;
  CairoSurface surface(cairo_image_surface_create(CAIRO_FORMAT_A8, hits.cols, hits.rows));
  if (cairo_surface_status(surface.get()) != CAIRO_STATUS_SUCCESS) return nullptr;
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

void hatch_excluded(cairo_t* cairo, const FaceFrame& frame, const cv::Mat& outside) {
  if (outside.empty()) return;
  cv::Mat shrunk;
  const cv::Size size(static_cast<int>(outside.cols * frame.px_per_grid),
                      static_cast<int>(outside.rows * frame.px_per_grid));
  cv::resize(outside, shrunk, size, 0.0, 0.0, cv::INTER_NEAREST);
  for (const Outside value : kHatched) {
    const CairoSurface mask = mask_of(shrunk, value);
    if (!mask) continue;
    cairo_push_group(cairo);
    draw_hatch(cairo, *hatch_of(value), frame.left, frame.top, size.width, size.height);
    cairo_pop_group_to_source(cairo);
    cairo_mask_surface(cairo, mask.get(), frame.left, frame.top);
  }
}

void add_slanted_lines(cairo_t* cairo, double slope, double step, const cv::Rect2d& box) {
  for (double offset = -box.height; offset < box.width + box.height; offset += step) {
    cairo_move_to(cairo, box.x + offset, slope > 0.0 ? box.y : box.y + box.height);
    cairo_line_to(cairo, box.x + offset + box.height, slope > 0.0 ? box.y + box.height : box.y);
  }
}

}  // namespace

std::optional<HatchStyle> hatch_of(Outside value) {
  switch (value) {
    case Outside::rim_band: return HatchStyle::rising;
    case Outside::chip: return HatchStyle::falling;
    case Outside::edit: return HatchStyle::crossed;
    case Outside::no:
    case Outside::beyond_rim:
    case Outside::glare: break;
  }
  return std::nullopt;
}

void draw_hatch(cairo_t* cairo, HatchStyle style, double x, double y, double width, double height) {
  cairo_save(cairo);
  cairo_rectangle(cairo, x, y, width, height);
  cairo_clip(cairo);
  const cv::Rect2d box(x, y, width, height);
  if (style == HatchStyle::rising) add_slanted_lines(cairo, -1.0, 11.0, box);
  if (style == HatchStyle::falling) add_slanted_lines(cairo, 1.0, 7.0, box);
  if (style == HatchStyle::crossed) {
    add_slanted_lines(cairo, 1.0, 14.0, box);
    add_slanted_lines(cairo, -1.0, 14.0, box);
  }
  cairo_set_line_width(cairo, 1.7);
  cairo_set_dash(cairo, nullptr, 0, 0.0);
  set_ink(cairo, kHatch);
  cairo_stroke(cairo);
  cairo_restore(cairo);
}

void set_line(cairo_t* cairo, const OutlineStyle& style, bool casing) {
  set_ink(cairo, casing ? kCasing : style.colour);
  cairo_set_line_width(cairo, style.width_px + (casing ? kCasingExtra : 0.0));
  cairo_set_line_join(cairo, CAIRO_LINE_JOIN_ROUND);
  cairo_set_line_cap(cairo, style.line == LineStyle::dotted ? CAIRO_LINE_CAP_ROUND : CAIRO_LINE_CAP_BUTT);
  constexpr std::array kDashes{10.0, 6.0};
  constexpr std::array kDots{0.0, 7.5};  // round caps make a dot of a dash without length
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
  for (const cv::Point2d& point : contour) {
    const cv::Point2d at = frame.of_grid(point);
    cairo_line_to(cairo, at.x, at.y);
  }
  cairo_close_path(cairo);
}

// Hundreds of small spots under a heavy line would show nothing but the line.
OutlineStyle spot_style(std::size_t spots) {
  return {kSpotLine, LineStyle::solid, spots > 150 ? 1.8 : spots > 60 ? 2.2 : 2.6};
}
OutlineStyle pit_style() { return {kPitLine, LineStyle::dashed, 2.4}; }
OutlineStyle glare_style() { return {kGlareLine, LineStyle::dotted, 3.4}; }

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
