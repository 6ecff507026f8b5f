#pragma once

#include "plate_style.hpp"

#include <optional>
#include <string_view>

namespace corefleck {

struct TextStyle {
  double size_px = kTextSize;
  bool bold = false;
  Ink colour = kText;
};

enum class Align { left, centre, right };

/// Where text stands: `x` is the left edge, the middle or the right edge by `align`, `y` the top of the first
/// line.
struct TextPlace {
  double x, y;
  Align align = Align::left;
  std::optional<double> width_px;  ///< wraps there, or shortens in the middle when `one_line`
  bool one_line = false;
};

struct TextSize {
  double width, height;
};

/// Reads the system's list of fonts and the usual one, which the first text would otherwise wait for.
void load_fonts();

/// Text is data, never markup, of any bytes: what is not UTF-8 is replaced, control characters become spaces.
TextSize write_text(cairo_t* cairo, const TextStyle& style, const TextPlace& place, std::string_view text);
[[nodiscard]] TextSize text_size(cairo_t* cairo, const TextStyle& style, std::string_view text);
/// One line whose middle is at x, y, with a dark edge round each letter, for writing on a picture.
void write_cased_text(cairo_t* cairo, const TextStyle& style, double x, double y, std::string_view text);

}  // namespace corefleck
