#include "rim_curve.hpp"

#include "corefleck/statistics.hpp"

#include <opencv2/core/utility.hpp>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <random>

namespace corefleck {
namespace {

constexpr int kPeaksPerRay = 4;
constexpr int kTrials = 400;
// Most trials are far off, which every fourth ray shows: one is looked at whole only if those few hold this
// share of what they hold of the best one.
constexpr std::size_t kGlance = 4;
constexpr double kWorthAll = 0.8;
// Neighbours on either side. From one to the next of that many points chance changes the sign half of the
// time and hardly ever less often than this; a rim on a pattern as fine as two millimetres, a fifth.
constexpr int kNeighbours = 15;
constexpr double kChangesByChance = 0.35;
constexpr double kWeak = 0.75;  // of the strength of points that keep their sign

std::array<double, 5> basis(double t) {
  return {1.0, std::cos(t), std::sin(t), std::cos(2 * t), std::sin(2 * t)};
}

std::vector<double> derivative_of_gaussian(double sigma) {
  const int reach = static_cast<int>(std::ceil(3.0 * sigma));
  std::vector<double> kernel;
  double norm = 0.0;
  for (int i = -reach; i <= reach; ++i) {
    kernel.push_back(i * std::exp(-0.5 * i * i / (sigma * sigma)));
    norm += i * kernel.back();
  }
  for (double& k : kernel) k /= norm;
  return kernel;
}

// The strongest edges of one ray, each placed between samples by a parabola through its three values.
std::vector<RimPoint> ray_edges(const RaySampler& sample,
                                double angle,
                                double first_r,
                                const RimSearch& search,
                                const std::vector<double>& kernel) {
  const int reach = static_cast<int>(kernel.size()) / 2;
  const int count = static_cast<int>((search.to_r - search.from_r) / search.step) + 1;
  const std::vector<float> values =
      sample(angle, {first_r - reach * search.step, search.step, count + 2 * reach});
  std::vector<double> slope;
  for (int i = 0; i < count; ++i) {
    double sum = 0.0;
    for (std::size_t k = 0; k < kernel.size(); ++k)
      sum += kernel[k] * static_cast<double>(values[static_cast<std::size_t>(i) + k]);
    slope.push_back(sum);
  }
  std::vector<RimPoint> edges;
  for (std::size_t i = 1; i + 1 < slope.size(); ++i) {
    const double left = std::abs(slope[i - 1]), mid = std::abs(slope[i]), right = std::abs(slope[i + 1]);
    if (mid < left || mid <= right) continue;
    const double bend = left - 2.0 * mid + right;
    const double shift = bend < 0.0 ? std::clamp(0.5 * (left - right) / bend, -0.5, 0.5) : 0.0;
    edges.push_back(
        {angle, first_r + (static_cast<double>(i) + shift) * search.step, mid, slope[i] > 0.0 ? 1 : -1});
  }
  std::sort(edges.begin(), edges.end(), [](const auto& a, const auto& b) { return a.strength > b.strength; });
  if (edges.size() > kPeaksPerRay) edges.resize(kPeaksPerRay);
  return edges;
}

/// Edges of rays, with the curve's terms at each ray's angle worked out once.
struct Rays {
  std::vector<std::vector<RimPoint>> edges;
  std::vector<std::array<double, 5>> terms;
};

double radius_of(const RimCurve& curve, const std::array<double, 5>& terms) {
  double r = 0.0;
  for (std::size_t i = 0; i < 5; ++i) r += curve.c[i] * terms[i];
  return r;
}

struct Support {
  double score = 0.0;
  std::vector<RimPoint> points;
};

// Strength counts only up to the typical strength, so that one glaring arc does not outvote a whole faint
// rim.
Support support(
    const Rays& rays, const RimCurve& curve, double tolerance, double typical_strength, bool collect = true) {
  Support result;
  for (std::size_t ray = 0; ray < rays.edges.size(); ++ray) {
    double best = 0.0;
    const RimPoint* chosen = nullptr;
    const double radius = radius_of(curve, rays.terms[ray]);
    for (const RimPoint& edge : rays.edges[ray]) {
      const double off = (edge.radius - radius) / tolerance;
      const double weight = (1.0 - off * off) * std::min(edge.strength / typical_strength, 1.0);
      if (std::abs(off) < 1.0 && weight > best) {
        best = weight;
        chosen = &edge;
      }
    }
    if (chosen == nullptr) continue;
    result.score += best;
    if (collect) result.points.push_back(*chosen);
  }
  return result;
}

/// Of the curve's first terms; the others are 0.
template <int kTerms = 5>
RimCurve least_squares(const std::vector<RimPoint>& points) {
  using Row = Eigen::Matrix<double, kTerms, 1>;
  Eigen::Matrix<double, kTerms, kTerms> normal = Eigen::Matrix<double, kTerms, kTerms>::Zero();
  Row right = Row::Zero();
  for (const RimPoint& point : points) {
    const auto b = basis(point.angle_rad);
    const Eigen::Map<const Row> row(b.data());
    normal += row * row.transpose();
    right += row * point.radius;
  }
  const Row c = normal.ldlt().solve(right);
  RimCurve curve;
  for (std::size_t i = 0; i < kTerms; ++i) curve.c[i] = c[static_cast<Eigen::Index>(i)];
  return curve;
}

// A core is round and hardly tilted, so a curve far from a circle is chance.
bool plausible(const RimCurve& curve, const RimCurve& expected) {
  const double r = expected.c[0];
  return std::isfinite(curve.c[0]) && std::hypot(curve.c[3], curve.c[4]) < 0.03 * r &&
         std::hypot(curve.c[1] - expected.c[1], curve.c[2] - expected.c[2]) < 0.12 * r &&
         std::abs(curve.c[0] - r) < 0.12 * r;
}

Rays every_nth(const Rays& rays, std::size_t n) {
  Rays few;
  for (std::size_t ray = 0; ray < rays.edges.size(); ray += n) {
    few.edges.push_back(rays.edges[ray]);
    few.terms.push_back(rays.terms[ray]);
  }
  return few;
}

RimCurve best_sampled_curve(const Rays& rays, const RimCurve& expected, double tolerance, double typical) {
  std::mt19937 random(20260314);  // a fixed seed: the same photo gives the same face
  std::vector<const std::vector<RimPoint>*> usable;
  for (const auto& ray : rays.edges)
    if (!ray.empty()) usable.push_back(&ray);
  const Rays few = every_nth(rays, kGlance);
  RimCurve best = expected;
  double best_few = support(few, expected, tolerance, typical, false).score;
  double best_score = support(rays, expected, tolerance, typical, false).score;
  const double nearly_all = 0.85 * static_cast<double>(rays.edges.size());
  if (usable.size() < 20) return best;
  for (int trial = 0; trial < kTrials && best_score < nearly_all; ++trial) {
    std::vector<RimPoint> five;
    const std::size_t start = random() % usable.size();
    for (std::size_t k = 0; k < 5; ++k) {
      const std::size_t at = (start + k * usable.size() / 5 + random() % (usable.size() / 6)) % usable.size();
      const auto& edges = *usable[at];
      five.push_back(edges[random() % std::min<std::size_t>(edges.size(), 2)]);
    }
    const RimCurve curve = least_squares(five);
    if (!plausible(curve, expected)) continue;
    const double few_score = support(few, curve, tolerance, typical, false).score;
    if (few_score < kWorthAll * best_few) continue;
    const double score = support(rays, curve, tolerance, typical, false).score;
    if (score <= best_score) continue;
    best_score = score;
    best_few = few_score;
    best = curve;
  }
  return best;
}

double median_strength(const Rays& rays) {
  std::vector<double> strengths;
  for (const auto& ray : rays.edges)
    if (!ray.empty()) strengths.push_back(ray.front().strength);
  return strengths.empty() ? 1.0 : std::max(median(strengths), 1e-9);
}

}  // namespace

double RimCurve::radius(double angle_rad) const { return radius_of(*this, basis(angle_rad)); }

std::vector<RimPoint> without_chance(const std::vector<RimPoint>& points) {
  const int count = static_cast<int>(points.size());
  if (count <= 2 * kNeighbours) return points;
  const auto at = [&](int i) -> const RimPoint& {
    return points[static_cast<std::size_t>((i + count) % count)];
  };
  std::vector<double> changes, strength, steady;
  for (int i = 0; i < count; ++i) {
    int number = 0;
    std::vector<double> about;
    for (int k = i - kNeighbours; k <= i + kNeighbours; ++k) {
      number += k > i - kNeighbours && at(k).sign != at(k - 1).sign ? 1 : 0;
      about.push_back(at(k).strength);
    }
    changes.push_back(number / (2.0 * kNeighbours));
    strength.push_back(median(about));
    if (changes.back() < kChangesByChance) steady.push_back(at(i).strength);
  }
  if (steady.empty()) return points;
  const double weak = kWeak * median(steady);
  std::vector<RimPoint> kept;
  for (std::size_t i = 0; i < points.size(); ++i)
    if (changes[i] < kChangesByChance || strength[i] >= weak) kept.push_back(points[i]);
  return kept;
}

RimCurve circle_through(const std::vector<RimPoint>& points) { return least_squares<3>(points); }

RimFit fit_rim(const RaySampler& sample, const RimCurve& expected, const RimSearch& search) {
  const std::vector<double> kernel = derivative_of_gaussian(search.smoothing);
  Rays rays{std::vector<std::vector<RimPoint>>(static_cast<std::size_t>(search.rays)),
            std::vector<std::array<double, 5>>(static_cast<std::size_t>(search.rays))};
  cv::parallel_for_(cv::Range(0, search.rays), [&](const cv::Range& range) {
    for (auto i = static_cast<std::size_t>(range.start); i < static_cast<std::size_t>(range.end); ++i) {
      const double angle = 2.0 * CV_PI * static_cast<double>(i) / search.rays;
      rays.terms[i] = basis(angle);
      rays.edges[i] =
          ray_edges(sample, angle, radius_of(expected, rays.terms[i]) + search.from_r, search, kernel);
    }
  });
  const double typical = median_strength(rays);
  RimFit fit;
  fit.curve = best_sampled_curve(rays, expected, search.tolerance, typical);
  Support held = support(rays, fit.curve, search.tolerance, typical);
  for (int pass = 0; pass < 4 && held.points.size() > 10; ++pass) {
    fit.curve = least_squares(held.points);
    held = support(rays, fit.curve, search.tolerance * (pass < 2 ? 1.0 : 0.7), typical);
  }
  std::vector<double> residuals, strengths;
  double signs = 0.0;
  for (const RimPoint& point : held.points) {
    residuals.push_back(point.radius - fit.curve.radius(point.angle_rad));
    strengths.push_back(point.strength);
    signs += point.sign;
  }
  const auto n = static_cast<double>(held.points.size());
  const double consistent = n > 0.0 ? 0.5 + 0.5 * std::abs(signs) / n : 0.0;
  fit.lighter_outwards = n > 0.0 ? signs / n : 0.0;
  fit.found = consistent * n / search.rays;
  fit.contrast = strengths.empty() ? 0.0 : median(strengths);
  fit.residual = residuals.size() > 2 ? robust_deviation(residuals) : search.tolerance;
  fit.points = std::move(held.points);
  return fit;
}

}  // namespace corefleck
