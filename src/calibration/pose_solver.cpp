#include "pose_solver.hpp"

#include <opencv2/core/utility.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

namespace corefleck {
namespace {

double sum_of_squares(const std::vector<double>& residuals) {
  double sum = 0.0;
  for (const double r : residuals) sum += r * r;
  return sum;
}

Normal normal_matrix(const Camera& camera,
                     const PoseEvidence& evidence,
                     const std::vector<double>& at,
                     Step& gradient) {
  const Eigen::MatrixXd jacobian = jacobian_of(camera, evidence, at);
  gradient = jacobian.transpose() *
             Eigen::Map<const Eigen::VectorXd>(at.data(), static_cast<Eigen::Index>(at.size()));
  return jacobian.transpose() * jacobian;
}

std::vector<PoseSolution> solve_from_each(const std::vector<Camera>& starts, const PoseEvidence& evidence) {
  std::vector<PoseSolution> solutions(starts.size());
  cv::parallel_for_(cv::Range(0, static_cast<int>(starts.size())), [&](const cv::Range& range) {
    for (auto i = static_cast<std::size_t>(range.start); i < static_cast<std::size_t>(range.end); ++i)
      solutions[i] = solve_from(starts[i], evidence);
  });
  return solutions;
}

}  // namespace

Eigen::MatrixXd jacobian_of(const Camera& camera,
                            const PoseEvidence& evidence,
                            const std::vector<double>& at) {
  constexpr double kStep = 1e-5;
  Eigen::MatrixXd jacobian(static_cast<Eigen::Index>(at.size()), kUnknowns);
  for (int j = 0; j < kUnknowns; ++j) {
    const std::vector<double> next = residuals_of(moved(camera, along(j, kStep)), evidence);
    for (std::size_t i = 0; i < at.size(); ++i)
      jacobian(static_cast<Eigen::Index>(i), j) = (next[i] - at[i]) / kStep;
  }
  return jacobian;
}

PoseSolution solve_from(Camera camera, const PoseEvidence& evidence) {
  std::vector<double> at = residuals_of(camera, evidence);
  double cost = sum_of_squares(at), damping = 1e-3;
  Step gradient;
  Normal normal = normal_matrix(camera, evidence, at, gradient);
  for (int step = 0; step < 40; ++step) {
    Normal damped = normal;
    damped.diagonal() *= 1.0 + damping;
    const Camera trial = moved(camera, -damped.ldlt().solve(gradient));
    const std::vector<double> trial_at = residuals_of(trial, evidence);
    const double trial_cost = sum_of_squares(trial_at);
    if (!std::isfinite(trial_cost) || trial_cost >= cost) {
      damping *= 8.0;
      if (damping > 1e8) break;
      continue;
    }
    const bool settled = cost - trial_cost < 1e-9 * cost;
    camera = trial;
    at = trial_at;
    cost = trial_cost;
    damping = std::max(damping / 5.0, 1e-9);
    normal = normal_matrix(camera, evidence, at, gradient);
    if (settled) break;
  }
  return {camera, normal, cost};
}

// A circle leaves two tilts, mirror images, and a side or a rim that is none a minimum of its own: besides
// both tilts, what each of rim and card says without the other is a start.
PoseSolution solve(const PoseEvidence& evidence) {
  const FaceEllipse& ellipse = evidence.face.ellipse;
  const double tilt = std::acos(std::clamp(ellipse.semi_minor / ellipse.semi_major, 0.9, 1.0));
  const double toward = ellipse.angle_rad + CV_PI / 2.0;
  std::vector<Camera> starts;
  for (const double sign : {0.0, 1.0, -1.0})
    starts.push_back(
        {sign * tilt * std::cos(toward), sign * tilt * std::sin(toward), evidence.focal_prior, 0.0});
  if (evidence.card != nullptr) {
    PoseEvidence rim_alone = evidence, card_alone = evidence;
    rim_alone.card = nullptr;
    card_alone.wall_u *= 1000.0;
    std::vector<Camera> both = starts;
    for (const PoseEvidence* part : {&rim_alone, &card_alone})
      for (const PoseSolution& solution : solve_from_each(starts, *part)) both.push_back(solution.camera);
    starts = both;
  }
  PoseSolution best{{}, {}, std::numeric_limits<double>::infinity()};
  for (const PoseSolution& solution : solve_from_each(starts, evidence))
    if (solution.cost < best.cost) best = solution;
  return best;
}

}  // namespace corefleck
