#include "lettering.hpp"

#include "corefleck/utf8.hpp"

#include <pango/pangocairo.h>

#include <string>

namespace corefleck {
namespace {

struct GObjectDeleter {
  void operator()(PangoLayout* layout) const { g_object_unref(layout); }
  void operator()(PangoFontDescription* font) const { pango_font_description_free(font); }
};
using Layout = std::unique_ptr<PangoLayout, GObjectDeleter>;

std::string printable(std::string_view text) {
  std::string words = valid_utf8(text);
  for (char& c : words)
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) c = ' ';
  return words;
}

Layout layout_of(cairo_t* cairo, const TextStyle& style, std::string_view text) {
  Layout layout(pango_cairo_create_layout(cairo));
  const std::unique_ptr<PangoFontDescription, GObjectDeleter> font(
      pango_font_description_from_string("DejaVu Sans, Sans"));
  pango_font_description_set_absolute_size(font.get(), style.size_px * PANGO_SCALE);
  pango_font_description_set_weight(font.get(), style.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  pango_layout_set_font_description(layout.get(), font.get());
  const std::string words = printable(text);
  pango_layout_set_text(layout.get(), words.data(), static_cast<int>(words.size()));
  return layout;
}

TextSize size_of(PangoLayout* layout) {
  PangoRectangle logical;
  pango_layout_get_extents(layout, nullptr, &logical);
  return {static_cast<double>(logical.width) / PANGO_SCALE,
          static_cast<double>(logical.height) / PANGO_SCALE};
}

double left_edge(const TextPlace& place, double width) {
  switch (place.align) {
    case Align::left:
      return place.x;
    case Align::centre:
      return place.x - 0.5 * width;
    case Align::right:
      break;
  }
  return place.x - width;
}

}  // namespace

void load_fonts() {
  const CairoSurface nowhere(cairo_image_surface_create(CAIRO_FORMAT_A8, 1, 1));
  const CairoContext cairo(cairo_create(nowhere.get()));
  write_text(cairo.get(), {}, {0.0, 0.0, Align::left, {}, false}, "0");
}

TextSize write_text(cairo_t* cairo, const TextStyle& style, const TextPlace& place, std::string_view text) {
  const Layout layout = layout_of(cairo, style, text);
  pango_layout_set_spacing(layout.get(), static_cast<int>(0.18 * style.size_px * PANGO_SCALE));
  if (place.width_px) {
    pango_layout_set_width(layout.get(), static_cast<int>(*place.width_px * PANGO_SCALE));
    pango_layout_set_wrap(layout.get(), PANGO_WRAP_WORD_CHAR);
    // The middle goes, since a file name's number and ending tell more than its middle.
    if (place.one_line) pango_layout_set_ellipsize(layout.get(), PANGO_ELLIPSIZE_MIDDLE);
  }
  const TextSize size = size_of(layout.get());
  set_ink(cairo, style.colour);
  cairo_move_to(cairo, left_edge(place, size.width), place.y);
  pango_cairo_show_layout(cairo, layout.get());
  return size;
}

TextSize text_size(cairo_t* cairo, const TextStyle& style, std::string_view text) {
  return size_of(layout_of(cairo, style, text).get());
}

void write_cased_text(cairo_t* cairo, const TextStyle& style, double x, double y, std::string_view text) {
  const Layout layout = layout_of(cairo, style, text);
  const TextSize size = size_of(layout.get());
  cairo_move_to(cairo, x - 0.5 * size.width, y - 0.5 * size.height);
  pango_cairo_layout_path(cairo, layout.get());
  cairo_set_line_join(cairo, CAIRO_LINE_JOIN_ROUND);
  cairo_set_line_width(cairo, 0.22 * style.size_px);
  set_ink(cairo, kCasing);
  cairo_stroke_preserve(cairo);
  set_ink(cairo, style.colour);
  cairo_fill(cairo);
}

}  // namespace corefleck
