#pragma once

#include "outlining.hpp"

#include <functional>
#include <vector>

namespace corefleck {

/// Luminance of a region over that of the matrix around it, less one.
[[nodiscard]] double height_of(const Region& region);

/// How the spots of one face look: what a light region of other making is told by.
struct UsualLooks {
  std::size_t number;  ///< of spots that tell
  double low, usual,
      high;  ///< heights: nine in ten are higher than `low`, half than `usual`, one in ten than `high`
  double unevenness;  ///< the usual scatter of a plateau over its height

  /// Neither much fainter nor much lighter nor much rougher than they; false where none tells.
  [[nodiscard]] bool fit(const Outlined& region) const;
};

/// The looks of the spots away from the rim, those left out that `is_doubtful` names.
[[nodiscard]] UsualLooks usual_looks(const std::vector<Outlined>& spots,
                                     const std::function<bool(const Outlined&)>& is_doubtful);

}  // namespace corefleck
