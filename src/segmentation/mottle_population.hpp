#pragma once

#include <vector>

namespace corefleck {

/// A light region, of which its size and its height over its surroundings are of interest.
struct LightRegion {
  double area_px, height;
};

/// One that stands for `weight` of its kind.
struct WeightedRegion : LightRegion {
  double weight;
};

/// Heights of the light regions that mottle and grain make on one face, by their size: the more of them, the
/// higher the highest, and what a region must exceed rises with their number. Larger regions of mottle are
/// rarer and mostly weaker, so a region is held against those of about its own size and up; against far
/// larger ones, stains and trowel marks, only where there are too few others.
class MottlePopulation {
 public:
  /// A region that is no spot.
  void add(const WeightedRegion& region);

  /// The heights that these, which pass for spots unless mottle reaches as high, must each exceed; 0 where
  /// too little mottle of its size is known. No mottle is expected beyond, or among many spots of one size a
  /// small share of them ([BenjaminiHochberg1995]).
  [[nodiscard]] std::vector<double> limits(const std::vector<LightRegion>& spots) const;

 private:
  /// Those that a region of this area is held against.
  [[nodiscard]] std::vector<WeightedRegion> near(double area_px) const;

  std::vector<WeightedRegion> members_;  // by area
};

}  // namespace corefleck
