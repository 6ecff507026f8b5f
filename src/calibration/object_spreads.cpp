#include "object_spreads.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <vector>

namespace corefleck {
namespace {

// How many residuals the two are worth: each is known to half of itself, which by [GUM] G.4.2 is
// 1 / (2 x 0.5^2) degrees of freedom.
constexpr double kUsualObjectWorth = 2.0;

/// Residuals at a fit, and the share of each that the fit takes up.
struct FitResiduals {
  std::vector<double> at;
  std::vector<double> taken;
};

FitResiduals residuals_at(const PoseSolution& solution, const PoseEvidence& evidence) {
  FitResiduals all{residuals_of(solution.camera, evidence), {}};
  const Eigen::MatrixXd jacobian = jacobian_of(solution.camera, evidence, all.at);
  const Eigen::MatrixXd covariance = (jacobian.transpose() * jacobian).inverse();
  for (Eigen::Index i = 0; i < jacobian.rows(); ++i)
    all.taken.push_back(std::clamp(jacobian.row(i).dot(covariance * jacobian.row(i).transpose()), 0.0, 1.0));
  return all;
}

/// Squares of deviations that are of one kind.
struct Squares {
  double sum = 0.0, count = 0.0;
  // Expected of a deviation that is seen with an error: where it can hardly be seen, or the fit takes it up,
  // it is expected to be as before (the E step of [Dempster1977]).
  void expect(double seen, double before, double error, double taken) {
    const double told = before * before / (before * before + error * error);
    sum += std::pow(told * seen, 2.0) + before * before * (1.0 - told + told * taken);
    count += 1.0;
  }
  [[nodiscard]] double deviation(double usual, double worth) const {
    return std::sqrt((worth * usual * usual + sum) / (worth + count));
  }
};

// Of the wall both the second harmonic, as far as tilt has not taken it up, and the finer ones tell.
double wall_of(const PoseSolution& solution, const PoseEvidence& evidence, const FitResiduals& fit) {
  Squares squares;
  for (const std::size_t i : {0U, 1U})
    squares.expect(fit.at[i] * evidence.roundness_u(), evidence.wall_u, evidence.rim_else_u, fit.taken[i]);
  const PlaneView view(solution.camera, evidence.straight, evidence.anchor);
  for (const Harmonic& fine : finer_harmonics(view, evidence.rim))
    squares.expect(fine.like_second, evidence.wall_u, fine.u, 0.0);
  return squares.deviation(kUnevenWall, kUsualObjectWorth);
}

double edge_of(const PoseEvidence& evidence, const FitResiduals& fit) {
  // Two more than the fit takes up go to pitch and place.
  Squares squares{0.0, -2.0};
  for (std::size_t i = kFirstEdgeResidual; i < kFirstEdgeResidual + evidence.bar.points.size(); ++i) {
    squares.sum += std::pow(fit.at[i] * evidence.edge_u, 2.0);
    squares.count += 1.0 - fit.taken[i];
  }
  squares.count = std::max(0.0, squares.count);
  return squares.deviation(evidence.usual_edge, kUsualEdgeWorth);
}

double square_of(const PoseEvidence& evidence, const FitResiduals& fit) {
  if (evidence.card == nullptr) return kCardSquareness;
  const auto& sides = evidence.card->sides;
  const auto count =
      std::count_if(sides.begin(), sides.end(), [](const auto& side) { return side.has_value(); });
  if (count < 2) return kCardSquareness;
  Squares squares;
  std::size_t i = kFirstEdgeResidual + evidence.bar.points.size();
  for (const auto& side : sides) {
    if (!side) continue;
    const double error = side->direction_u_rad, seen = fit.at[i] * std::hypot(evidence.side_u(), error);
    squares.expect(
        seen, evidence.side_u(), error, std::min(1.0, fit.taken[i] + 1.0 / static_cast<double>(count)));
    ++i;
  }
  return std::sqrt(2.0) * squares.deviation(kCardSquareness / std::sqrt(2.0), kUsualObjectWorth);
}

}  // namespace

void settle_spreads(PoseSolution& solution, PoseEvidence& evidence) {
  constexpr int kRounds = 4;  // after which they change by some per cent only
  for (int round = 0; round < kRounds; ++round) {
    const FitResiduals fit = residuals_at(solution, evidence);
    const double wall = wall_of(solution, evidence, fit), edge = edge_of(evidence, fit);
    evidence.square_u = square_of(evidence, fit);
    evidence.wall_u = wall;
    evidence.edge_u = edge;
    solution = solve_from(solution.camera, evidence);
  }
}

}  // namespace corefleck
