#pragma once

#include <opencv2/core.hpp>

#include <array>
#include <functional>
#include <vector>

namespace corefleck {

/// Radius of the rim as seen from a centre near the middle: r = c0 + c1 cos t + c2 sin t + c3 cos 2t + c4 sin
/// 2t. To first order in the eccentricity this is every ellipse about any nearby centre, and it is linear in
/// c.
struct RimCurve {
  std::array<double, 5> c{};
  [[nodiscard]] double radius(double angle_rad) const;
};

struct RimPoint {
  double angle_rad, radius, strength;
  int sign;  ///< +1 lighter outwards, -1 darker outwards
};

struct RimFit {
  RimCurve curve;
  double found;             ///< share of the angles with an edge on the curve, weighted by consistent sign
  double contrast;          ///< median strength of the edges on the curve
  double residual;          ///< robust deviation of those edges
  double lighter_outwards;  ///< mean sign of those edges, -1 to +1
  std::vector<RimPoint> points;  ///< one an angle at most, those on the curve
};

/// Radii at which a ray is sampled: `first`, then every `step`.
struct RaySteps {
  double first, step;
  int count;
};

/// Luminance or tone along a ray at the given radii. Rays are sampled by several threads at once.
using RaySampler = std::function<std::vector<float>(double angle_rad, const RaySteps& steps)>;

struct RimSearch {
  int rays = 360;
  double from_r = 0.0, to_r = 0.0;  ///< about the expected curve: radius(angle) + from_r ... + to_r
  double step = 1.0;
  double smoothing = 1.5;  ///< standard deviation of the derivative's Gaussian, in steps
  double tolerance = 2.0;  ///< distance at which an edge is still on the curve
};

/// Edges on rays about an expected curve, and the curve that most of them lie on (seeded sampling, then least
/// squares).
[[nodiscard]] RimFit fit_rim(const RaySampler& sample, const RimCurve& expected, const RimSearch& search);

/// The points of a fit, in the order of their angles, that chance did not put on the curve: noise inside the
/// face is as often lighter outwards as darker, from ray to ray, and weaker than the rim elsewhere; a rim
/// keeps its sign over some rays on a patterned bench, too.
[[nodiscard]] std::vector<RimPoint> without_chance(const std::vector<RimPoint>& points);

/// The circle about any nearby centre that fits best: c3 and c4 are 0.
[[nodiscard]] RimCurve circle_through(const std::vector<RimPoint>& points);

}  // namespace corefleck
