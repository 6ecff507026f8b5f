#pragma once

#include "face_frame.hpp"
#include "plate_style.hpp"

#include "corefleck/segmentation.hpp"

#include <span>

namespace corefleck {

/// Line of an outline on the picture: an ink over a dark casing.
struct OutlineStyle {
  Ink colour;
  LineStyle line;
  double width_px;
};
inline constexpr double kCasingExtra = 3.0;  ///< by which the casing is wider than its line

void set_line(cairo_t* cairo, const OutlineStyle& style, bool casing);
/// Strokes the path that was laid, casing first.
void stroke_cased(cairo_t* cairo, const OutlineStyle& style);
/// Lays a closed contour as a path.
void add_contour(cairo_t* cairo, const FaceFrame& frame, const Contour& contour);
/// Fills a rectangle of the page with hatching.
void draw_hatch(cairo_t* cairo, HatchStyle style, double x, double y, double width, double height);

[[nodiscard]] OutlineStyle spot_style(std::size_t spots);
[[nodiscard]] OutlineStyle pit_style();
[[nodiscard]] OutlineStyle glare_style();
/// How an excluded part of the face is hatched; empty for what is not hatched.
[[nodiscard]] std::optional<HatchStyle> hatch_of(Outside value);

/// Hatches what is excluded, then draws glare, pits and spots, the most important on top.
void draw_regions(cairo_t* cairo, const FaceFrame& frame, const SpotMap& spots);

}  // namespace corefleck
