#pragma once

#include "plane_view.hpp"
#include "pose_evidence.hpp"

#include <Eigen/Dense>
#include <vector>

namespace corefleck {

/// Of a camera.
inline constexpr int kUnknowns = 4;
/// A change of each of them.
using Step = Eigen::Vector4d;
using Normal = Eigen::Matrix4d;

inline Camera moved(const Camera& c, const Step& d) {
  return {c.tilt_x + d[0], c.tilt_y + d[1], c.log_focal + d[2], c.bend + d[3]};
}

inline Step along(int unknown, double step) { return step * Step::Unit(unknown); }

/// The camera that fits the evidence best.
struct PoseSolution {
  Camera camera;
  Normal normal;  ///< matrix of the linearised fit: its inverse is the covariance
  double cost;    ///< sum of the squared residuals
};

/// Change of each residual with each unknown; `at`: the residuals at this camera.
[[nodiscard]] Eigen::MatrixXd jacobian_of(const Camera& camera,
                                          const PoseEvidence& evidence,
                                          const std::vector<double>& at);

/// Levenberg-Marquardt from one start.
[[nodiscard]] PoseSolution solve_from(Camera camera, const PoseEvidence& evidence);

/// From every start that the evidence suggests.
[[nodiscard]] PoseSolution solve(const PoseEvidence& evidence);

}  // namespace corefleck
