#include "rim_by_colour.hpp"

#include "rim_rays.hpp"

#include "corefleck/statistics.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <vector>

namespace corefleck {
namespace {

// Difference of colour across the rim, in its own deviations and in log of a ratio, from which colour is
// asked where exactly the plaster ends; and the share of the rim it must show then.
constexpr double kClearColour = 2.5, kLeastColour = 0.03, kFollowedByColour = 0.7;
// A rim that lightness shows whole is given up only for one that colour shows as whole, and clearly
// elsewhere: colour blurs into the dark of a shadow by up to 0.8 % of the radius.
constexpr double kWholeRim = 0.95, kAsWhole = 0.03;

// Of the radius, about what lightness shows: a shadow that falls to one side ends up to 0.05 beyond the rim.
constexpr double kInside = 0.06, kOutside = 0.035;
// In steps of a thousandth of the radius: the rim is as wide in colour, which files keep at half the
// resolution and cameras smooth.
constexpr double kColourSmoothing = 8.0;

struct ColourRing {
  std::array<double, 2> middle, spread;  ///< of log R/G and log B/G
};

// Of a ring of the overview, `from` to `to` times the rim's radius.
ColourRing colour_ring(
    const Overview& overview, cv::Point2d centre, const RimCurve& rim, double from, double to) {
  std::array<std::vector<double>, 2> ratios;
  for (int i = 0; i < 180; ++i) {
    const double angle = 2.0 * CV_PI * i / 180.0, r = rim.radius(angle);
    for (const double share : {from, 0.5 * (from + to), to}) {
      const cv::Point2d at =
          overview.from_photo(centre + share * r * cv::Point2d(std::cos(angle), std::sin(angle)));
      const cv::Point pixel(static_cast<int>(std::lround(at.x)), static_cast<int>(std::lround(at.y)));
      if (!cv::Rect({}, overview.rgb.size()).contains(pixel)) continue;
      const cv::Vec3f v = overview.rgb.at<cv::Vec3f>(pixel);
      const double green = std::log(std::max(static_cast<double>(v[1]), 1e-3));
      ratios[0].push_back(std::log(std::max(static_cast<double>(v[0]), 1e-3)) - green);
      ratios[1].push_back(std::log(std::max(static_cast<double>(v[2]), 1e-3)) - green);
    }
  }
  ColourRing ring{};
  for (std::size_t c = 0; c < 2; ++c) {
    ring.middle[c] = ratios[c].empty() ? 0.0 : median(ratios[c]);
    ring.spread[c] = ratios[c].empty() ? 1.0 : std::max(robust_deviation(ratios[c]), 2e-3);
  }
  return ring;
}

// The ratio of channels that parts the face from what lies around it, if one does.
std::optional<RimChannel> colour_across_rim(const Overview& overview,
                                            cv::Point2d centre,
                                            const RimCurve& rim) {
  const ColourRing in = colour_ring(overview, centre, rim, 0.86, 0.95);
  const ColourRing out = colour_ring(overview, centre, rim, 1.05, 1.14);
  std::array<double, 2> weight{};
  double clear = 0.0, difference = 0.0;
  for (std::size_t c = 0; c < 2; ++c) {
    const double step = out.middle[c] - in.middle[c];
    const double variance = in.spread[c] * in.spread[c] + out.spread[c] * out.spread[c];
    weight[c] = step / variance;
    clear += step * step / variance;
    difference = std::max(difference, std::abs(step));
  }
  if (clear < kClearColour * kClearColour || difference < kLeastColour) return std::nullopt;
  const double size = std::hypot(weight[0], weight[1]);
  const auto red = static_cast<float>(weight[0] / size), blue = static_cast<float>(weight[1] / size);
  return RimChannel{true, {red, -red - blue, blue}};
}

double apart(const RimCurve& a, const RimCurve& b) {
  double most = 0.0;
  for (int i = 0; i < 72; ++i) {
    const double angle = 2.0 * CV_PI * i / 72.0;
    most = std::max(most, std::abs(a.radius(angle) - b.radius(angle)));
  }
  return most;
}

}  // namespace

ByColour check_by_colour(
    const Photo& photo, const Overview& overview, cv::Point2d centre, const RimSearch& like, RimFit& fit) {
  const auto channel = colour_across_rim(overview, centre, fit.curve);
  if (!channel) return ByColour::unknown;
  const double r = fit.curve.c[0];
  RimSearch search = like;
  search.to_r = std::max(8.0, kOutside * r);
  search.from_r = -std::max(8.0, kInside * r);
  search.rays = kRaysByColour;
  search.step = std::max(0.5, r / 1000.0);
  search.smoothing = kColourSmoothing;
  search.tolerance = std::max(2.0, 0.006 * r);
  RimFit by_colour = fit_rim(rays_of(photo, centre, *channel), fit.curve, search);
  if (by_colour.found < std::max(kFollowedByColour, fit.found - kAsWhole) ||
      std::abs(by_colour.lighter_outwards) < 0.9)
    return ByColour::unknown;
  const bool whole = fit.found >= kWholeRim;
  // The side wall has the plaster's colour: beyond a whole rim, colour ends where the wall does.
  if (whole && by_colour.curve.c[0] > r) return ByColour::agrees;
  const double clearly = (whole ? 0.009 : 0.003) * r;
  if (apart(by_colour.curve, fit.curve) < std::max(1.5, clearly)) return ByColour::agrees;
  fit = std::move(by_colour);
  return ByColour::elsewhere;
}

}  // namespace corefleck
