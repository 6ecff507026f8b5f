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
  slope.reserve(static_cast<std::size_t>(std::max(count, 0)));
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
  struct Edge {
    RimPoint point;
    double weight;  ///< its strength, as share of the typical one; 1 at most
  };
  std::vector<Edge> edges;         ///< ray by ray
  std::vector<std::size_t> begin;  ///< by ray, where its edges begin; in the end, where the last one's end
  std::vector<std::array<double, 5>> terms;  ///< by ray
  [[nodiscard]] std::size_t count() const { return terms.size(); }
};

double radius_of(const RimCurve& curve, const std::array<double, 5>& terms) {
  double r = 0.0;
  for (std::size_t i = 0; i < 5; ++i) r += curve.c[i] * terms[i];
  return r;
}

/// The edge of a ray that lies on a curve, if one does, and how well.
struct OnCurve {
  const Rays::Edge* edge = nullptr;
  double score = 0.0;
};

OnCurve on_curve(const Rays& rays, std::size_t ray, const RimCurve& curve, double tolerance) {
  OnCurve best;
  const double radius = radius_of(curve, rays.terms[ray]);
  for (std::size_t i = rays.begin[ray]; i < rays.begin[ray + 1]; ++i) {
    const Rays::Edge& edge = rays.edges[i];
    const double away = edge.point.radius - radius;
    if (std::abs(away) >= tolerance) continue;  // as most are: they need no division
    const double off = away / tolerance;
    const double score = (1.0 - off * off) * edge.weight;
    if (score > best.score) best = {&edge, score};
  }
  return best;
}

/// Of every nth ray. Where even full marks for all rays to come would not give `wanted`, the rest is left
/// out.
double support(
    const Rays& rays, const RimCurve& curve, double tolerance, std::size_t nth = 1, double wanted = 0.0) {
  constexpr std::size_t kAtOnce = 16;  // rays between two such looks
  double score = 0.0;
  for (std::size_t ray = 0; ray < rays.count();) {
    const std::size_t end = std::min(rays.count(), ray + kAtOnce * nth);
    for (; ray < end; ray += nth) score += on_curve(rays, ray, curve, tolerance).score;
    const std::size_t to_come = ray < rays.count() ? (rays.count() - ray - 1) / nth + 1 : 0;
    if (score + static_cast<double>(to_come) < wanted) break;
  }
  return score;
}

/// Edges on a curve, one a ray at most, and the terms of their rays.
struct Held {
  std::vector<RimPoint> points;
  std::vector<std::array<double, 5>> terms;
};

Held held_by(const Rays& rays, const RimCurve& curve, double tolerance) {
  Held held;
  for (std::size_t ray = 0; ray < rays.count(); ++ray)
    if (const OnCurve best = on_curve(rays, ray, curve, tolerance); best.edge != nullptr) {
      held.points.push_back(best.edge->point);
      held.terms.push_back(rays.terms[ray]);
    }
  return held;
}

/// Least squares for the curve's first terms; the others are 0.
template <int kTerms>
class CurveFit {
 public:
  void add(const std::array<double, 5>& terms, double radius) {
    const Eigen::Map<const Row> row(terms.data());
    normal_ += row * row.transpose();
    right_ += row * radius;
  }
  [[nodiscard]] RimCurve curve() const {
    const Row c = normal_.ldlt().solve(right_);
    RimCurve curve;
    for (std::size_t i = 0; i < kTerms; ++i) curve.c[i] = c[static_cast<Eigen::Index>(i)];
    return curve;
  }

 private:
  using Row = Eigen::Matrix<double, kTerms, 1>;
  Eigen::Matrix<double, kTerms, kTerms> normal_ = Eigen::Matrix<double, kTerms, kTerms>::Zero();
  Row right_ = Row::Zero();
};

RimCurve curve_through(const Held& held) {
  CurveFit<5> fit;
  for (std::size_t i = 0; i < held.points.size(); ++i) fit.add(held.terms[i], held.points[i].radius);
  return fit.curve();
}

// A core is round and hardly tilted, so a curve far from a circle is chance.
bool plausible(const RimCurve& curve, const RimCurve& expected) {
  const double r = expected.c[0];
  return std::isfinite(curve.c[0]) && std::hypot(curve.c[3], curve.c[4]) < 0.03 * r &&
         std::hypot(curve.c[1] - expected.c[1], curve.c[2] - expected.c[2]) < 0.12 * r &&
         std::abs(curve.c[0] - r) < 0.12 * r;
}

RimCurve best_sampled_curve(const Rays& rays, const RimCurve& expected, double tolerance) {
  std::mt19937 random(20260314);  // a fixed seed: the same photo gives the same face
  std::vector<std::size_t> usable;
  for (std::size_t ray = 0; ray < rays.count(); ++ray)
    if (rays.begin[ray] < rays.begin[ray + 1]) usable.push_back(ray);
  RimCurve best = expected;
  double best_few = support(rays, expected, tolerance, kGlance);
  double best_score = support(rays, expected, tolerance);
  const double nearly_all = 0.85 * static_cast<double>(rays.count());
  if (usable.size() < 20) return best;
  for (int trial = 0; trial < kTrials && best_score < nearly_all; ++trial) {
    CurveFit<5> five;
    const std::size_t start = random() % usable.size();
    for (std::size_t k = 0; k < 5; ++k) {
      const std::size_t at = (start + k * usable.size() / 5 + random() % (usable.size() / 6)) % usable.size();
      const std::size_t ray = usable[at], edges = rays.begin[ray + 1] - rays.begin[ray];
      const std::size_t edge = rays.begin[ray] + random() % std::min<std::size_t>(edges, 2);
      five.add(rays.terms[ray], rays.edges[edge].point.radius);
    }
    const RimCurve curve = five.curve();
    if (!plausible(curve, expected)) continue;
    const double worth_all = kWorthAll * best_few;
    const double few_score = support(rays, curve, tolerance, kGlance, worth_all);
    if (few_score < worth_all) continue;
    const double score = support(rays, curve, tolerance, 1, best_score);
    if (score <= best_score) continue;
    best_score = score;
    best_few = few_score;
    best = curve;
  }
  return best;
}

// Strength counts only up to the typical strength, so that one glaring arc does not outvote a whole faint
// rim.
Rays rays_of(const std::vector<std::vector<RimPoint>>& edges, std::vector<std::array<double, 5>> terms) {
  std::vector<double> strengths;
  for (const auto& ray : edges)
    if (!ray.empty()) strengths.push_back(ray.front().strength);
  const double typical = strengths.empty() ? 1.0 : std::max(median(strengths), 1e-9);
  Rays rays{{}, {0}, std::move(terms)};
  for (const auto& ray : edges) {
    for (const RimPoint& point : ray) rays.edges.push_back({point, std::min(point.strength / typical, 1.0)});
    rays.begin.push_back(rays.edges.size());
  }
  return rays;
}

/// Rays all round about an expected curve.
Rays cast_rays(const RaySampler& sample, const RimCurve& expected, const RimSearch& search) {
  const std::vector<double> kernel = derivative_of_gaussian(search.smoothing);
  std::vector<std::vector<RimPoint>> edges(static_cast<std::size_t>(search.rays));
  std::vector<std::array<double, 5>> terms(edges.size());
  cv::parallel_for_(cv::Range(0, search.rays), [&](const cv::Range& range) {
    for (auto i = static_cast<std::size_t>(range.start); i < static_cast<std::size_t>(range.end); ++i) {
      const double angle = 2.0 * CV_PI * static_cast<double>(i) / search.rays;
      terms[i] = basis(angle);
      edges[i] = ray_edges(sample, angle, radius_of(expected, terms[i]) + search.from_r, search, kernel);
    }
  });
  return rays_of(edges, std::move(terms));
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

RimCurve circle_through(const std::vector<RimPoint>& points) {
  CurveFit<3> fit;
  for (const RimPoint& point : points) fit.add(basis(point.angle_rad), point.radius);
  return fit.curve();
}

RimFit fit_rim(const RaySampler& sample, const RimCurve& expected, const RimSearch& search) {
  const Rays rays = cast_rays(sample, expected, search);
  RimFit fit;
  fit.curve = best_sampled_curve(rays, expected, search.tolerance);
  Held held = held_by(rays, fit.curve, search.tolerance);
  for (int pass = 0; pass < 4 && held.points.size() > 10; ++pass) {
    fit.curve = curve_through(held);
    held = held_by(rays, fit.curve, search.tolerance * (pass < 2 ? 1.0 : 0.7));
  }
  std::vector<double> residuals, strengths;
  double signs = 0.0;
  for (std::size_t i = 0; i < held.points.size(); ++i) {
    const RimPoint& point = held.points[i];
    residuals.push_back(point.radius - radius_of(fit.curve, held.terms[i]));
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
