#include "corefleck/calibration.hpp"

#include <fmt/format.h>

#include <cmath>

namespace corefleck {

std::vector<std::string> CalibrationSettings::faults() const {
  std::vector<std::string> faults;
  const auto require = [&](bool holds, std::string text) {
    if (!holds) faults.push_back(std::move(text));
  };
  require(card_reflectance > 0.0 && card_reflectance <= 1.0,
          fmt::format("card_reflectance = {}; must be above 0 and at most 1", card_reflectance));
  require(bar_length.number() > 0.0 && bar_length.number() <= 10000.0,
          fmt::format("bar_length_mm = {}; must be above 0 and at most 10000", bar_length.number()));
  require(bar_blocks >= 2 && bar_blocks <= 100,
          fmt::format("bar_blocks = {}; must be from 2 to 100", bar_blocks));
  require(bar_tolerance_pct >= 0.0 && bar_tolerance_pct <= 10.0,
          fmt::format("bar_tolerance_pct = {}; must be from 0 to 10", bar_tolerance_pct));
  require(bar_height.number() >= 0.0 && bar_height.number() <= 1000.0,
          fmt::format("bar_height_mm = {}; must be from 0 to 1000", bar_height.number()));
  require(rim_band.number() >= 0.0 && rim_band.number() <= 100.0,
          fmt::format("rim_band_mm = {}; must be from 0 to 100", rim_band.number()));
  if (core_diameter)
    require(core_diameter->number() > 0.0 && std::isfinite(core_diameter->number()),
            fmt::format("core_diameter_mm = {}; must be above 0", core_diameter->number()));
  if (core_at)
    require(core_at->r > 0.0 && std::isfinite(core_at->x + core_at->y + core_at->r),
            fmt::format("core_at radius = {}; must be above 0", core_at->r));
  if (card_at)
    require(card_at->w > 0.0 && card_at->h > 0.0 &&
                std::isfinite(card_at->x + card_at->y + card_at->w + card_at->h),
            fmt::format("card_at size = {} x {}; both must be above 0", card_at->w, card_at->h));
  if (bar_ends)
    require(std::hypot(bar_ends->x2 - bar_ends->x1, bar_ends->y2 - bar_ends->y1) > 0.0,
            "bar_ends = one point; the two ends must differ");
  return faults;
}

// A Gaussian's integral rises from 10 to 90 % over 2 x 1.2816 sigma.
double ScaleBar::blur_sigma_px() const { return edge_width_px / 2.563; }

int ScaleBar::used_edges() const {
  int used = 0;
  for (const BarEdge& edge : edges) used += edge.used ? 1 : 0;
  return used;
}

}  // namespace corefleck
