#include "rings.hpp"

#include "overview.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace corefleck {
namespace {

// Of the ring's radius. A roll of tape's hole is four to nine tenths of it; a bevel's edge lies further out.
constexpr double kSmallestHole = 0.42;
constexpr int kHoles = 7;
constexpr double kStep = 0.08,
                 kReach = 0.06;     // between the holes looked for, each to both sides: they overlap
constexpr double kSeen = 0.6;       // share of the other edge, as of a rim that makes a face
constexpr double kOffMiddle = 0.1;  // between the edges' centres, of the ring's radius: a roll seen aslant
constexpr double kMostly = 0.5;     // share of the hole in which the bench shows; a bar may lie across it
constexpr double kBeyond = 1.25;    // of the ring's radius, how far the bench is looked at
constexpr double kClear = 0.03;     // of it, left out to either side of an edge
// Distance at which colours are no longer alike, on the scale of L*: grain and soft shadows are a third of
// it.
constexpr double kUnlike = 6.0;

/// Two round edges about one centre.
struct Ring {
  cv::Point2d centre;
  double hole, rim;
};

// About as far apart as colours look: the cube root of each channel on the scale of L*.
cv::Vec3f seen_colour(const cv::Vec3f& linear) {
  cv::Vec3f seen;
  for (int c = 0; c < 3; ++c) seen[c] = 100.0F * std::cbrt(std::max(0.0F, linear[c]));
  return seen;
}

// Colours between two radii, about evenly over the area in the frame.
std::vector<cv::Vec3f> colours_between(cv::Point2d centre, double from, double to, const cv::Mat& rgb) {
  constexpr int kAround = 60, kAcross = 6;
  std::vector<cv::Vec3f> colours;
  for (int k = 0; k < kAcross; ++k)
    for (int i = 0; i < kAround; ++i) {
      const double angle = 2.0 * CV_PI * i / kAround, share = (k + 0.5) / kAcross;
      const double r = std::sqrt(from * from + share * (to * to - from * from));
      const cv::Point at(cvRound(centre.x + r * std::cos(angle)), cvRound(centre.y + r * std::sin(angle)));
      if (cv::Rect({}, rgb.size()).contains(at)) colours.push_back(seen_colour(rgb.at<cv::Vec3f>(at)));
    }
  return colours;
}

// Share of `others` that are of about this colour.
double share_like(const cv::Vec3f& colour, const std::vector<cv::Vec3f>& others) {
  double sum = 0.0;
  for (const cv::Vec3f& other : others) {
    const double off = cv::norm(colour - other) / kUnlike;
    sum += std::max(0.0, 1.0 - off * off);
  }
  return sum / std::max(1.0, static_cast<double>(others.size()));
}

// The hole's colours are mostly met more often beyond the rim than on the ring.
bool bench_in_hole(const Ring& ring, const cv::Mat& rgb) {
  const double clear = kClear * ring.rim;
  const auto within = colours_between(ring.centre, 0.0, ring.hole - clear, rgb);
  const auto on = colours_between(ring.centre, ring.hole + clear, ring.rim - clear, rgb);
  const auto beyond = colours_between(ring.centre, ring.rim + clear, kBeyond * ring.rim, rgb);
  const auto bench = std::count_if(within.begin(), within.end(), [&](const cv::Vec3f& colour) {
    return share_like(colour, beyond) > share_like(colour, on);
  });
  return static_cast<double>(bench) > kMostly * static_cast<double>(within.size());
}

// The clearest round edge about the thing's middle within the range of rings whose other edge is the thing's.
//   outwards  the thing is the hole
RimFit other_edge(const RoundThing& thing, const cv::Mat& tone, RimSearch search, bool outwards) {
  const RaySampler sample = [&](double angle, const RaySteps& steps) {
    std::vector<float> values;
    for (int i = 0; i < steps.count; ++i) {
      const double r = steps.first + i * steps.step;
      values.push_back(
          bilinear(tone, thing.centre.x + r * std::cos(angle), thing.centre.y + r * std::sin(angle)));
    }
    return values;
  };
  RimFit best{};
  for (int i = 0; i < kHoles; ++i) {
    const double hole = kSmallestHole + i * kStep;
    RimCurve expected;
    expected.c[0] = outwards ? thing.radius / hole : thing.radius * hole;
    search.to_r = kReach / hole * expected.c[0];
    search.from_r = -search.to_r;
    RimFit fit = fit_rim(sample, expected, search);
    if (fit.found > best.found) best = std::move(fit);
  }
  return best;
}

}  // namespace

bool is_ring(const RoundThing& thing, const cv::Mat& tone, const RimSearch& like, const cv::Mat& rgb) {
  for (const bool outwards : {false, true}) {
    const RimFit other = other_edge(thing, tone, like, outwards);
    const double r = other.curve.c[0];
    const Ring ring{thing.centre, std::min(r, thing.radius), std::max(r, thing.radius)};
    const double off = std::hypot(other.curve.c[1], other.curve.c[2]);
    if (other.found > kSeen && off < kOffMiddle * ring.rim && bench_in_hole(ring, rgb)) return true;
  }
  return false;
}

}  // namespace corefleck
