#pragma once

#include "plate_style.hpp"

#include "corefleck/comparison.hpp"

namespace corefleck {

/// Outlines and signs of changes.
inline constexpr Ink kChangeLine = ink(0x14202B);

/// Strokes the path with a light halo, so that it stands out from spot and matrix; leaves no path.
void stroke_haloed(cairo_t* cairo, const Ink& colour, double width, LineStyle line);

/// The kind's sign about a place: + new, triangle up grown (filled: larger), triangle down shrunk (empty:
/// smaller), x gone, arrows together merged, apart split, ? unclear; nothing for the others.
void draw_sign(cairo_t* cairo, ChangeKind kind, double x, double y);
[[nodiscard]] double sign_half_width(ChangeKind kind);

}  // namespace corefleck
