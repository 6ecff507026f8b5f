#include "change_signs.hpp"

#include "lettering.hpp"

#include <array>

namespace corefleck {
namespace {

constexpr Ink kHalo = ink(0xFFFFFF, 0.85);
constexpr double kSign = 11.0;  // half the height of a sign

void triangle(cairo_t* cairo, double x, double y, double up) {
  cairo_move_to(cairo, x, y - up * kSign);
  cairo_line_to(cairo, x + kSign, y + up * 0.8 * kSign);
  cairo_line_to(cairo, x - kSign, y + up * 0.8 * kSign);
  cairo_close_path(cairo);
}

void arrow(cairo_t* cairo, double x, double y, double towards) {
  const double reach = towards * kSign;
  cairo_move_to(cairo, x - reach, y);
  cairo_line_to(cairo, x + reach, y);
  cairo_move_to(cairo, x + reach - towards * 7.0, y - 6.0);
  cairo_line_to(cairo, x + reach, y);
  cairo_line_to(cairo, x + reach - towards * 7.0, y + 6.0);
}

/// The sign's path.
void lay_sign(cairo_t* cairo, ChangeKind kind, double x, double y) {
  const double s = 0.8 * kSign;
  switch (kind) {
    case ChangeKind::fresh:
      cairo_move_to(cairo, x - kSign, y);
      cairo_line_to(cairo, x + kSign, y);
      cairo_move_to(cairo, x, y - kSign);
      cairo_line_to(cairo, x, y + kSign);
      break;
    case ChangeKind::gone:
      cairo_move_to(cairo, x - s, y - s);
      cairo_line_to(cairo, x + s, y + s);
      cairo_move_to(cairo, x + s, y - s);
      cairo_line_to(cairo, x - s, y + s);
      break;
    case ChangeKind::grown:
      triangle(cairo, x, y, 1.0);
      break;
    case ChangeKind::shrunk:
      triangle(cairo, x, y, -1.0);
      break;
    case ChangeKind::merged:
      arrow(cairo, x - 14.0, y, 1.0);
      arrow(cairo, x + 14.0, y, -1.0);
      break;
    case ChangeKind::split:
      arrow(cairo, x - 14.0, y, -1.0);
      arrow(cairo, x + 14.0, y, 1.0);
      break;
    case ChangeKind::steady:
    case ChangeKind::unclear:
    case ChangeKind::unmeasured:
      break;
  }
}

}  // namespace

void stroke_haloed(cairo_t* cairo, const Ink& colour, double width, LineStyle line) {
  constexpr std::array kDots{3.0, 4.0};
  cairo_set_line_join(cairo, CAIRO_LINE_JOIN_ROUND);
  cairo_set_line_cap(cairo, CAIRO_LINE_CAP_BUTT);
  cairo_set_dash(cairo, nullptr, 0, 0.0);
  set_ink(cairo, kHalo);
  cairo_set_line_width(cairo, width + 3.0);
  cairo_stroke_preserve(cairo);
  if (line != LineStyle::solid) cairo_set_dash(cairo, kDots.data(), 2, 0.0);
  set_ink(cairo, colour);
  cairo_set_line_width(cairo, width);
  cairo_stroke(cairo);
  cairo_set_dash(cairo, nullptr, 0, 0.0);
}

void draw_sign(cairo_t* cairo, ChangeKind kind, double x, double y) {
  if (kind == ChangeKind::unclear) {
    write_text(cairo,
               {.size_px = 28.0, .bold = true, .colour = kChangeLine},
               {x, y - 17.0, Align::centre, {}, false},
               "?");
    return;
  }
  lay_sign(cairo, kind, x, y);
  stroke_haloed(cairo, kChangeLine, 3.6, LineStyle::solid);
  if (kind == ChangeKind::grown) {
    lay_sign(cairo, kind, x, y);
    set_ink(cairo, kChangeLine);
    cairo_fill(cairo);
  }
}

double sign_half_width(ChangeKind kind) {
  return kind == ChangeKind::merged || kind == ChangeKind::split ? 14.0 + kSign : kSign;
}

}  // namespace corefleck
