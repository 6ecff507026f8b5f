#pragma once

#include <optional>
#include <string>
#include <vector>

namespace corefleck {

/// A measured value with its standard uncertainty (JCGM 100:2008), in the same unit, coverage factor 1.
template <class Q>
struct Estimate {
  Q value;
  Q u;
};

/// Coverage factor of the half-widths that are written to files: 95 % of a normal distribution.
inline constexpr double kCoverage95 = 1.959964;

/// One line of an uncertainty budget (JCGM 100:2008, 8 and table H.1).
struct UncertaintyComponent {
  std::string name;             ///< of the input quantity, for example "scale"
  double standard_uncertainty;  ///< u(x), in the unit that `unit` names
  std::string unit;
  double sensitivity;   ///< dy/dx, in the figure's unit over `unit`
  double contribution;  ///< |dy/dx| u(x), in the figure's unit
  std::string origin;   ///< where u(x) comes from: which measurement, or which assumption
};

/// A figure's budget: components, and the combined standard uncertainty (root sum of squares, JCGM 100:2008
/// eq. 10).
struct UncertaintyBudget {
  std::string figure;  ///< column of summary.csv or spots.csv that it belongs to
  std::string unit;
  std::vector<UncertaintyComponent> components;
  double combined = 0.0;
};

}  // namespace corefleck
