#include "bar_fit.hpp"

#include <opencv2/core.hpp>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <initializer_list>
#include <optional>
#include <utility>

namespace corefleck {
namespace {

// Projective along a line: s = (a + b k) / (1 + c k), linear in a, b, c. A bar is short against the camera's
// distance, so c is small: without saying so, an edge that does not belong would be explained by it. A phone
// 120 mm above a bar of 60 mm in 4 blocks, tilted by 10 degrees, makes 0.02 a block.
constexpr double kPerspective = 0.01;                // standard deviation of c, per block
constexpr double kFarOff_px = 0.8, kFarOff = 0.012;  // in pixels, in pitches
constexpr double kEdge_px = 0.15;                    // of an edge's place, for the weight of that knowledge

// A camera's tone curve, glare and spread ink move rising and falling edges apart: all light blocks look
// wider by the same, or all dark ones.
constexpr double kWidening_px = 0.5;  // standard deviation of that, of an edge

constexpr std::ptrdiff_t kLeastLeft = 4;
constexpr double kGood_px = 0.2;     // a fit that needs no edge left out
constexpr double kMuchBetter = 0.6;  // of the deviation with an edge, what is left without it
constexpr double kOneLine = 0.5;     // lesser over greater shift of the two ends, where one line makes both

// Linear in a, b, c and the widening w: s - t w = a + b k - c k s, t the edge's sign, c k t w left out as
// small.
LineFit fit_line(const std::vector<Crossing>& edges, const std::vector<bool>& used) {
  cv::Mat rows(0, 4, CV_64F), right(0, 1, CV_64F);
  const auto add = [&](const cv::Matx14d& row, double value) {
    rows.push_back(cv::Mat(row));
    right.push_back(cv::Mat(cv::Matx<double, 1, 1>(value)));
  };
  for (std::size_t i = 0; i < edges.size(); ++i) {
    const Crossing& e = edges[i];
    if (used[i]) add({1.0, 1.0 * e.index, -e.index * e.position, e.step > 0.0 ? -1.0 : 1.0}, e.position);
  }
  add({0.0, 0.0, kEdge_px / kPerspective, 0.0}, 0.0);
  add({0.0, 0.0, 0.0, kEdge_px / kWidening_px}, 0.0);
  cv::Mat x;
  cv::solve(rows, right, x, cv::DECOMP_SVD);
  return {x.at<double>(0), x.at<double>(1), x.at<double>(2), x.at<double>(3)};
}

// Of the edges about the fit; what perspective and widening had to explain counts in, or few edges would fit
// anything.
double spread(const std::vector<Crossing>& edges, const std::vector<bool>& used, const LineFit& fit) {
  double sum =
      std::pow(kEdge_px * fit.c / kPerspective, 2.0) + std::pow(kEdge_px * fit.widening / kWidening_px, 2.0);
  int count = 0;
  for (std::size_t i = 0; i < edges.size(); ++i) {
    if (!used[i]) continue;
    sum += std::pow(fit.off(edges[i]), 2.0);
    ++count;
  }
  return std::sqrt(sum / std::max(1, count - 2));
}

RobustFit fit_of(const std::vector<Crossing>& edges, std::vector<bool> used) {
  const LineFit line = fit_line(edges, used);
  const double deviation = spread(edges, used, line);
  return {line, std::move(used), deviation};
}

RobustFit without(const std::vector<Crossing>& edges,
                  const RobustFit& fit,
                  std::initializer_list<std::size_t> out) {
  std::vector<bool> used = fit.used;
  for (const std::size_t i : out) used[i] = false;
  return fit_of(edges, std::move(used));
}

// The fit without the one edge that does not belong, if there is one.
std::optional<RobustFit> without_one(const std::vector<Crossing>& edges,
                                     const RobustFit& fit,
                                     double far_px) {
  std::optional<RobustFit> best;
  for (std::size_t i = 0; i < edges.size(); ++i) {
    if (!fit.used[i]) continue;
    RobustFit trial = without(edges, fit, {i});
    if (trial.deviation >= (best ? best->deviation : kMuchBetter * fit.deviation)) continue;
    if (std::abs(trial.line.off(edges[i])) >= far_px) best = std::move(trial);
  }
  return best;
}

// A line about all blocks, of the end blocks' tone, moves both ends outwards by its width: neither is far off
// before the other is left out too.
std::optional<RobustFit> without_ends(const std::vector<Crossing>& edges,
                                      const RobustFit& fit,
                                      double far_px) {
  if (!fit.used.front() || !fit.used.back()) return std::nullopt;
  RobustFit trial = without(edges, fit, {0, edges.size() - 1});
  const double first = -trial.line.off(edges.front()), last = trial.line.off(edges.back());
  const bool one_line = std::min(first, last) > kOneLine * std::max(first, last);
  if (trial.deviation >= kMuchBetter * kMuchBetter * fit.deviation || std::min(first, last) < far_px ||
      !one_line)
    return std::nullopt;
  return trial;
}

}  // namespace

// An edge that lies far off where the others put it (the end of the strip, a scratch, a printed outline) is
// left out, as long as four remain. Nearer ones stay, however much better the rest would fit without: few
// edges fit anything.
RobustFit robust_fit(const std::vector<Crossing>& edges) {
  RobustFit fit = fit_of(edges, std::vector<bool>(edges.size(), true));
  const double pitch = std::abs(edges.back().position - edges.front().position) /
                       std::max(1, edges.back().index - edges.front().index);
  const double far_px = std::max(kFarOff_px, kFarOff * pitch);
  for (;;) {
    const auto left = std::count(fit.used.begin(), fit.used.end(), true);
    if (left <= kLeastLeft || fit.deviation <= kGood_px) return fit;
    auto better = without_one(edges, fit, far_px);
    if (!better && left > kLeastLeft + 1) better = without_ends(edges, fit, far_px);
    if (!better) return fit;
    fit = *std::move(better);
  }
}

}  // namespace corefleck
