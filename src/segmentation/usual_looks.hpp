#pragma once

#include "outlining.hpp"

#include <functional>
#include <vector>

namespace corefleck {

/// Luminance of a region over that of the matrix around it, less one.
[[nodiscard]] double height_of(const Region& region);

/// 4 pi times its area over its perimeter squared: 1 for a disc.
[[nodiscard]] double form_factor_of(const Region& region);

/// How the spots of one face look: what a light region of other making is told by.
struct UsualLooks {
  std::size_t number;       ///< of spots that tell
  double low, usual, high;  ///< heights: nine in ten are higher, half are, one in ten is
  double unevenness;        ///< the usual scatter of a plateau over its height
  std::size_t clear;        ///< of spots that are compact and no mere points
  double clear_light;       ///< height that one in five of these exceeds

  /// Neither much fainter nor much lighter nor much rougher than they; false where none tells.
  [[nodiscard]] bool fit(const Outlined& region) const;
};

/// The looks of the spots away from the rim, those left out that `is_doubtful` names; of `point_px` and less
/// are mere points.
[[nodiscard]] UsualLooks usual_looks(const std::vector<Outlined>& spots,
                                     double point_px,
                                     const std::function<bool(const Outlined&)>& is_doubtful);

}  // namespace corefleck
