#include "deviations.hpp"

#include "random.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace scenes {
namespace {

// Usual deviations of such objects, common practice, no source: a median and the factor within which 95 % of
// them lie. They were set before any of these photos was measured.
//
// The widest diameter of a drilled core less its narrowest, as a calliper tells it: 0.08 to 0.5 mm.
constexpr double kOvalMm = 0.2, kOvalFactor = 2.5;
constexpr int kFinestHarmonic = 7;   // finer ones are roughness of the edge
constexpr double kSlantCut_deg = 1;  // standard deviation of the face off square to the core's axis
// A cut that misses its mark, at each corner and along each axis: 0.14 degrees on a side of 60 mm.
constexpr double kCornerMm = 0.1, kCornerFactor = 2.5;
// A printed edge lies within about one dot of 600 an inch, and ink or toner spreads by as much.
constexpr double kEdgeMm = 0.02, kEdgeFactor = 2.2;
constexpr double kInkMm = 0.02, kInkFactor = 2.5;
constexpr double kBarLength = 0.0005;  // the tolerance that the program assumes unless told another
// Standard deviations that the program assumes: of a card's reflectance, and of contrast by a camera's tones.
constexpr double kCardLevel = 0.02, kTone = 0.02;
// So far may the rim stray: the face is painted half a millimetre past its nominal circle.
constexpr double kMostStrayMm = 0.4;

constexpr int kTableSteps = 4096;

double log_normal(Random& random, double median, double factor_95) {
  return median * std::pow(factor_95, random.normal() / 1.96);
}

RimHarmonic wave(int order, double amplitude, double phase) {
  return {order, amplitude * std::cos(phase), amplitude * std::sin(phase)};
}

std::vector<RimHarmonic> draw_rim_harmonics(Random random, double radius_mm) {
  const auto phase = [&random] { return random.uniform(0, 2 * std::numbers::pi); };
  // An ellipse of amplitude a is 4 a wider one way than the other.
  const double oval = log_normal(random, kOvalMm, kOvalFactor) / 4;
  std::vector<RimHarmonic> harmonics{wave(2, oval, phase())};
  // A round core cut at a slant shows an ellipse.
  const double slant = std::tan(kSlantCut_deg * std::numbers::pi / 180 * random.normal());
  const RimHarmonic cut = wave(2, radius_mm * slant * slant / 4, phase());
  harmonics[0].cos_mm += cut.cos_mm;
  harmonics[0].sin_mm += cut.sin_mm;
  for (int order = 3; order <= kFinestHarmonic; ++order) {
    const double usual = oval * std::pow(2.0 / order, 2) / std::sqrt(2.0);
    const double c = usual * random.normal(), s = usual * random.normal();
    harmonics.push_back({order, c, s});
  }
  double stray = 0;
  for (const RimHarmonic& h : harmonics) stray += std::hypot(h.cos_mm, h.sin_mm);
  const double shrink = std::min(1.0, kMostStrayMm / stray);
  for (RimHarmonic& h : harmonics) h = {h.order, h.cos_mm * shrink, h.sin_mm * shrink};
  return harmonics;
}

double stray_at(const std::vector<RimHarmonic>& harmonics, double angle) {
  double stray = 0;
  for (const RimHarmonic& h : harmonics)
    stray += h.cos_mm * std::cos(h.order * angle) + h.sin_mm * std::sin(h.order * angle);
  return stray;
}

// A tolerance of the length is one of the end edges: what they stray is stretched out of all edges.
void hold_ends(std::vector<double>& edges) {
  const double first = edges.front(), last = edges.back(), steps = static_cast<double>(edges.size() - 1);
  for (std::size_t k = 0; k < edges.size(); ++k)
    edges[k] -= first + (last - first) * static_cast<double>(k) / steps;
}

}  // namespace

Deviations draw_deviations(std::uint64_t seed, double radius_mm, int bar_blocks) {
  Deviations deviations;
  deviations.rim = draw_rim_harmonics(Random(seed, "rim out of round"), radius_mm);
  Random card(seed, "card off square"), bar(seed, "bar off length");
  const double corner = log_normal(card, kCornerMm, kCornerFactor);
  for (auto& off : deviations.card_corners_mm) {
    off.x = corner * card.normal();
    off.y = corner * card.normal();
  }
  deviations.bar_length = bar.uniform(-kBarLength, kBarLength);
  deviations.ink_spread_mm = log_normal(bar, kInkMm, kInkFactor);
  const double edge = log_normal(bar, kEdgeMm, kEdgeFactor);
  for (int k = 0; k <= bar_blocks; ++k) deviations.bar_edges_mm.push_back(edge * bar.normal());
  hold_ends(deviations.bar_edges_mm);
  deviations.card_level = kCardLevel * Random(seed, "card off its reflectance").normal();
  deviations.tone = kTone * Random(seed, "tones off sRGB's").normal();
  return deviations;
}

Rim::Rim(double radius_mm, std::vector<RimHarmonic> harmonics)
    : radius_mm_(radius_mm), harmonics_(std::move(harmonics)), least_(radius_mm), most_(radius_mm) {
  if (harmonics_.empty()) return;
  for (int step = 0; step <= kTableSteps; ++step)
    table_.push_back(radius_mm + stray_at(harmonics_, 2 * std::numbers::pi * step / kTableSteps));
  const auto [least, most] = std::minmax_element(table_.begin(), table_.end());
  least_ = *least;
  most_ = *most;
}

double Rim::radius_at(double x, double y) const {
  if (table_.empty()) return radius_mm_;
  const double turn = std::atan2(y, x) / (2 * std::numbers::pi);
  const double at = (turn < 0 ? turn + 1 : turn) * kTableSteps;
  const auto step = std::min<std::size_t>(static_cast<std::size_t>(at), kTableSteps - 1);
  const double part = at - static_cast<double>(step);
  return table_[step] * (1 - part) + table_[step + 1] * part;
}

bool Rim::holds(double x_mm, double y_mm) const {
  const double far2 = x_mm * x_mm + y_mm * y_mm;
  if (far2 > most_ * most_) return false;
  if (far2 <= least_ * least_) return true;
  const double limit = radius_at(x_mm, y_mm);
  return far2 <= limit * limit;
}

double Rim::area_mm2() const {
  double squares = radius_mm_ * radius_mm_;
  for (const RimHarmonic& h : harmonics_) squares += (h.cos_mm * h.cos_mm + h.sin_mm * h.sin_mm) / 2;
  return std::numbers::pi * squares;
}

Rim Rim::mirrored() const {
  std::vector<RimHarmonic> other = harmonics_;
  for (RimHarmonic& h : other) {
    const double sign = h.order % 2 == 0 ? 1 : -1;
    h = {h.order, sign * h.cos_mm, -sign * h.sin_mm};
  }
  return {radius_mm_, other};
}

Rim Rim::turned(double turn_rad) const {
  std::vector<RimHarmonic> other = harmonics_;
  for (RimHarmonic& h : other) {
    const double c = std::cos(h.order * turn_rad), s = std::sin(h.order * turn_rad);
    h = {h.order, c * h.cos_mm - s * h.sin_mm, s * h.cos_mm + c * h.sin_mm};
  }
  return {radius_mm_, other};
}

}  // namespace scenes
