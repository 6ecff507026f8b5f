#pragma once

#include <cstddef>

namespace corefleck {

/// What is asked of a light region before it is a spot.
struct DetectionRule {
  float low;             ///< relative contrast from which a region is looked at
  double least_area_px;  ///< smaller regions are not reported
  double noise_rel;      ///< deviation of the contrast on the matrix, at the scale of pixels
  double mottle_rel;     ///< the same at the scale of the smallest spot
  double broad_area_px;  ///< from here on a region's outline is long enough to tell whether its edge is crisp
};

/// A light region, and what shows whether it is a spot.
struct Evidence {
  double height;   ///< plateau over ground, relative contrast
  double plateau;  ///< over the matrix's level there
  double area_px;
  double soft_mm;        ///< width of its flank beyond the photo's blur
  double spread_inside;  ///< robust deviation of its plateau
  double spread_ground;  ///< of the matrix around it
  int ground_px;
  bool own_colour;  ///< its colour steps at its outline, too
};

/// Weber contrast that a region must at least have, whatever its surroundings, at that mottle.
[[nodiscard]] double least_detectable(double mottle_rel);

/// By how much more regions must exceed what mottle reaches where they are so few: one or two that hardly do
/// are what a face without spots shows now and then.
[[nodiscard]] double lone_margin(std::size_t regions);

/// Mottle is light too, but it is weak against its own spread or fades slowly, and it has the matrix's
/// colour; a spot is neither weak nor slow, and where its colour tells it from the matrix, less lightness
/// will do.
[[nodiscard]] bool is_spot(const Evidence& region, const DetectionRule& rule);

/// A broad, crisp region that is no spot by little: as likely one as not.
[[nodiscard]] bool is_nearly_spot(const Evidence& region, const DetectionRule& rule);

}  // namespace corefleck
