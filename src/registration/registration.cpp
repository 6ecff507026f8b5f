#include "corefleck/registration.hpp"

#include "part_fit.hpp"
#include "turn_search.hpp"

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace corefleck {
namespace {

constexpr int kFirstRounds = 2, kLastRounds = 2;
constexpr double kClear = 0.6;  // a score that needs no second look at other turns
constexpr double kRadiiDiffer =
    0.004;  // by this much the scales do not agree; less of it the fit of parts takes in
constexpr double kElsewhere_mm = 1.1;  // how far the face's centre may be off where the rim is broken

PartFit best_about(const FaceDetail& first, const FaceDetail& second, const cv::Point2d& centre_mm) {
  PartFit best;
  for (const TurnCandidate& candidate : turn_candidates(first, second, centre_mm)) {
    PartFit fit = fit_parts(first, second, candidate.first_to_second, kFirstRounds, FitPurpose::recognise);
    if (best.parts == 0 || fit.score() > best.score()) best = std::move(fit);
    if (best.score() >= kClear) break;
  }
  return best;
}

/// The rims' circles say where the centres lie; where that leads nowhere, a little to every side of it.
PartFit best_fit(const FaceDetail& first, const FaceDetail& second) {
  PartFit best = best_about(first, second, {0.0, 0.0});
  for (int side = 0; side < 6 && best.score() < kSameFaceScore; ++side) {
    const double angle = CV_PI * side / 3.0;
    PartFit other =
        best_about(first, second, {kElsewhere_mm * std::cos(angle), kElsewhere_mm * std::sin(angle)});
    if (other.score() > best.score()) best = std::move(other);
  }
  return best;
}

FaceGrid mirrored(const FaceGrid& grid) {
  FaceGrid result = grid;
  result.centre_px = grid.size_px - 1 - grid.centre_px;
  return result;
}

/// Left and right exchanged, about the face's centre.
FaceDetail mirrored(const FaceDetail& face) {
  FaceDetail result = face;
  for (const auto& [from, to] : {std::pair{&face.fine, &result.fine},
                                 std::pair{&face.seen, &result.seen},
                                 std::pair{&face.coarse, &result.coarse},
                                 std::pair{&face.coarse_seen, &result.coarse_seen}}) {
    cv::Mat flipped;
    cv::flip(*from, flipped, 1);
    *to = flipped;
  }
  result.grid = mirrored(face.grid);
  result.coarse_grid = mirrored(face.coarse_grid);
  return result;
}

/// The face as if its millimetres were `factor` times as long.
FaceDetail rescaled(const FaceDetail& face, double factor) {
  FaceDetail result = face;
  result.grid.pitch = factor * face.grid.pitch;
  result.coarse_grid.pitch = factor * face.coarse_grid.pitch;
  result.radius = factor * face.radius;
  return result;
}

/// A fit onto the rescaled second face as one onto the face itself.
PartFit scaled_back(PartFit fit, double factor) {
  fit.first_to_second.linear = fit.first_to_second.linear * (1.0 / factor);
  fit.first_to_second.shift_mm /= factor;
  for (PlacePair& pair : fit.agreeing) pair.second /= factor;
  return fit;
}

/// The best fit, placed; its score tells whether it is one at all. Where one photo's scale is misread by more
/// than the parts' reach allows, the rims still tell: both are of one core.
PartFit placed(const FaceDetail& first, const FaceDetail& second) {
  const PartFit fit = best_fit(first, second);
  if (fit.score() >= kSameFaceScore)
    return fit_parts(first, second, fit.first_to_second, kLastRounds, FitPurpose::place);
  const double factor = first.radius / second.radius;
  if (std::abs(factor - 1.0) < kRadiiDiffer) return fit;
  const FaceDetail other = rescaled(second, factor);
  const PartFit again = best_fit(first, other);
  if (again.score() < kSameFaceScore) return fit;
  return scaled_back(fit_parts(first, other, again.first_to_second, kLastRounds, FitPurpose::place), factor);
}

double rms_mm(const PartFit& fit) {
  double squares = 0.0;
  for (const PlacePair& pair : fit.agreeing) squares += std::pow(distance_mm(fit.first_to_second, pair), 2.0);
  return std::sqrt(squares / static_cast<double>(std::max<std::size_t>(fit.agreeing.size(), 1)));
}

/// From the scatter: each part's error over its distance from the middle, all together.
double rotation_u_deg(const PartFit& fit, double residual_mm) {
  cv::Point2d middle;
  for (const PlacePair& pair : fit.agreeing) middle += pair.first;
  middle /= static_cast<double>(std::max<std::size_t>(fit.agreeing.size(), 1));
  double lever = 0.0;
  for (const PlacePair& pair : fit.agreeing) {
    const cv::Point2d arm = pair.first - middle;
    lever += arm.dot(arm);
  }
  // Along one direction the residual is its length over the root of two.
  return lever > 0.0 ? residual_mm / std::sqrt(2.0 * lever) * 180.0 / CV_PI : 180.0;
}

Registration described(const PartFit& fit) {
  Registration result{};
  result.first_to_second = fit.first_to_second;
  result.rotation_deg = fit.first_to_second.rotation_deg();
  result.residual_mm = rms_mm(fit);
  result.rotation_u_deg = rotation_u_deg(fit, result.residual_mm);
  result.score = fit.score();
  result.parts = fit.parts;
  result.parts_agreeing = static_cast<int>(fit.agreeing.size());
  cv::Mat stretch;
  cv::SVD::compute(cv::Mat(fit.first_to_second.jacobian()), stretch, cv::SVD::NO_UV);
  result.stretch_max_pct = 100.0 * (stretch.at<double>(0) - 1.0);
  result.stretch_min_pct = 100.0 * (stretch.at<double>(1) - 1.0);
  return result;
}

}  // namespace

Result<Registration> register_faces(const FaceDetail& first, const FaceDetail& second) {
  const PartFit fit = placed(first, second);
  if (fit.score() >= kSameFaceScore) return described(fit);
  const PartFit flipped = best_about(first, mirrored(second), {0.0, 0.0});
  if (flipped.score() >= kSameFaceScore)
    return failure(ErrorCode::faces_mirrored,
                   fmt::format("one photo is mirrored: the faces agree once it is flipped (score {:.2f})",
                               flipped.score()),
                   "use the photo as the camera wrote it, not flipped");
  return failure(ErrorCode::faces_differ,
                 fmt::format("these do not look like the same face (score {:.2f}; {:.2f} or more is wanted)",
                             fit.score(),
                             kSameFaceScore),
                 "check that both photos show the same core, its face whole, sharp and clean");
}

}  // namespace corefleck
