#pragma once

#include <vector>

namespace corefleck {

/// An edge along the axis of a bar: where the light crosses the middle between the levels on both sides.
struct Crossing {
  int index;        ///< of the edge, counted from one that was expected
  double position;  ///< along the axis, pixels
  double step;      ///< change of the linear light along the axis
  double width;     ///< between the 25 and 75 % crossings, pixels
};

/// Equal spacing seen in perspective along a line: s = (a + b k) / (1 + c k), light blocks wider by twice the
/// widening.
struct LineFit {
  double a, b, c, widening;
  [[nodiscard]] double at(int k) const { return (a + b * k) / (1.0 + c * k); }
  [[nodiscard]] double shift(const Crossing& edge) const { return edge.step > 0.0 ? -widening : widening; }
  [[nodiscard]] double off(const Crossing& edge) const {
    return edge.position - shift(edge) - at(edge.index);
  }
};

/// The fit to the edges that belong together, with which of them are `used` and their `deviation` about it,
/// pixels.
struct RobustFit {
  LineFit line;
  std::vector<bool> used;
  double deviation;
};
[[nodiscard]] RobustFit robust_fit(const std::vector<Crossing>& edges);

}  // namespace corefleck
