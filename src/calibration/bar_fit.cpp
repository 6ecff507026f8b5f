#include "bar_fit.hpp"

#include <opencv2/core.hpp>

#include <algorithm>
#include <cmath>

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

}  // namespace

// An edge that lies far off where the others put it (the end of the strip, a scratch, a printed outline) is
// left out, as long as four remain. Nearer ones stay, however much better the rest would fit without: few
// edges fit anything.
RobustFit robust_fit(const std::vector<Crossing>& edges) {
  std::vector<bool> used(edges.size(), true);
  const double pitch = std::abs(edges.back().position - edges.front().position) /
                       std::max(1, edges.back().index - edges.front().index);
  const double far_px = std::max(kFarOff_px, kFarOff * pitch);
  LineFit fit = fit_line(edges, used);
  double deviation = spread(edges, used, fit);
  for (auto left = edges.size(); left > 4 && deviation > 0.2; --left) {
    std::vector<bool> best_used;
    LineFit best_fit{};
    double best = 0.6 * deviation;
    for (std::size_t i = 0; i < edges.size(); ++i) {
      if (!used[i]) continue;
      std::vector<bool> without = used;
      without[i] = false;
      const LineFit trial = fit_line(edges, without);
      const double trial_deviation = spread(edges, without, trial);
      if (trial_deviation >= best || std::abs(trial.off(edges[i])) < far_px) continue;
      best = trial_deviation;
      best_used = without;
      best_fit = trial;
    }
    if (best_used.empty()) break;
    used = best_used;
    fit = best_fit;
    deviation = best;
  }
  return {fit, used, deviation};
}

}  // namespace corefleck
