#pragma once

#include <cairo.h>

#include <memory>

namespace corefleck {

/// Sizes and inks of the plate, in one place. A plate is 180 mm wide in print: the width between the margins
/// of an A4 or a Letter page; so 11.1 px are a millimetre and 3.9 px a typographic point.
inline constexpr double kPlateWidth = 2000.0;
inline constexpr double kPrintedWidthMm = 180.0;
inline constexpr double kMargin = 60.0;
inline constexpr double kFaceDiameter = 1500.0;

inline constexpr double kTitleSize = 46.0;
inline constexpr double kValueSize = 40.0;
inline constexpr double kHeadingSize = 27.0;
inline constexpr double kTextSize = 25.0;
inline constexpr double kSmallSize = 22.0;

struct Ink {
  double red, green, blue, alpha = 1.0;
};
constexpr Ink ink(unsigned rgb, double alpha = 1.0) {
  return {(rgb >> 16 & 255U) / 255.0, (rgb >> 8 & 255U) / 255.0, (rgb & 255U) / 255.0, alpha};
}

inline constexpr Ink kText = ink(0x1E2326);
inline constexpr Ink kMuted = ink(0x5C646A);
inline constexpr Ink kRule = ink(0xC6CCD0);
inline constexpr Ink kPaper = ink(0xFFFFFF);

// The three lines differ in lightness (L* about 95, 78, 70) and not by red against green, and in their
// dashes: they stay apart in a grey print and for each kind of colour blindness. The casing keeps them
// visible on spot and matrix alike.
inline constexpr Ink kCasing = ink(0x101C28, 0.92);
inline constexpr Ink kSpotLine = ink(0xFFF0D8);
inline constexpr Ink kPitLine = ink(0x7FC7EE);
inline constexpr Ink kGlareLine = ink(0xF98B55);
inline constexpr Ink kHatch = ink(0x101C28, 0.75);
inline constexpr Ink kSwatch = ink(0x8C8B87);
inline constexpr Ink kBars = ink(0xAEB9C1);

enum class LineStyle { solid, dashed, dotted };
enum class HatchStyle { rising, falling, crossed };

struct CairoDeleter {
  void operator()(cairo_t* context) const { cairo_destroy(context); }
  void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
};
using CairoContext = std::unique_ptr<cairo_t, CairoDeleter>;
using CairoSurface = std::unique_ptr<cairo_surface_t, CairoDeleter>;

inline void set_ink(cairo_t* cairo, const Ink& colour) {
  cairo_set_source_rgba(cairo, colour.red, colour.green, colour.blue, colour.alpha);
}

}  // namespace corefleck
