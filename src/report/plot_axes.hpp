#pragma once

#include "corefleck/visits.hpp"

#include <string>
#include <vector>

namespace corefleck {

struct Tick {
  double at;  ///< in the axis's unit; of a date axis years since its origin
  std::string label;
};

struct Axis {
  double from, to;
  std::vector<Tick> ticks;
  [[nodiscard]] double share(double at) const { return (at - from) / (to - from); }
};

/// Axis for values from `low` to `high`, with steps of 1, 2 or 5 times a power of ten, six at most. It begins
/// at 0 unless all values lie in the upper part of what that would show, so that a small change stays
/// legible.
[[nodiscard]] Axis value_axis(double low, double high);
/// Axis for dates with some room on both sides: ticks at days, months or years, as many as `most`.
[[nodiscard]] Axis date_axis(Date first, Date last, int most);

}  // namespace corefleck
