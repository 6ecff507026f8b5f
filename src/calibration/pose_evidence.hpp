#pragma once

#include "face_finder.hpp"
#include "grey_card.hpp"
#include "plane_view.hpp"
#include "scale_bar.hpp"

#include "corefleck/photo.hpp"

#include <opencv2/core.hpp>

#include <vector>

namespace corefleck {

// Standard deviations of what is assumed about the objects; common practice, no source. How good a core and
// a card are of their kind the photo tells in part: `settle_spreads`.
inline constexpr double kUnevenWall = 0.001;       // second harmonic of a drilled core's radius, relative
inline constexpr double kCardSquareness = 0.0035;  // rad, between the sides of a cut card
// What block edges are off by in general, as seen and as printed (half a dot of 600 to the inch), and how
// many residuals that knowledge is worth. The three terms of a bar seen in perspective leave four edges a
// single residual, which says next to nothing about their errors.
inline constexpr double kUsualEdge_px = 0.2, kPrintedEdge_mm = 0.02, kUsualEdgeWorth = 3.0;

/// What rim, bar, card and camera say of the pose, each with its standard deviation.
struct PoseEvidence {
  const FoundFace& face;
  std::vector<cv::Point2d> rim;  ///< thinned
  const FoundBar& bar;
  int blocks;  ///< of the bar
  const FoundCard* card;
  LensBend straight;  ///< the frame, not bent
  cv::Point2d anchor;
  double focal_prior, focal_prior_u;  ///< logarithm of the focal length in photo pixels
  bool focal_from_exif;
  double rim_missing;           ///< share of the rim that was not seen
  double rim_else_u;            ///< of the second harmonic, by all but an uneven wall
  double usual_edge;            ///< what block edges are off by in general, in pitches
  double edge_u;                ///< standard deviation of a block edge, in pitches
  double wall_u = kUnevenWall;  ///< of the second harmonic, by an uneven wall
  double square_u = kCardSquareness;
  [[nodiscard]] double roundness_u() const { return std::hypot(wall_u, rim_else_u); }
  [[nodiscard]] double side_u() const { return square_u / std::sqrt(2.0); }
};

[[nodiscard]] PoseEvidence pose_evidence(const Photo& photo,
                                         const FoundFace& face,
                                         const FoundBar& bar,
                                         const FoundCard* card,
                                         const CalibrationSettings& settings);

/// How far the evidence is from what this camera would see, in standard deviations: the two second harmonics
/// of the rim, the block edges from `kFirstEdgeResidual` on, the card's sides, the camera.
[[nodiscard]] std::vector<double> residuals_of(const Camera& camera, const PoseEvidence& evidence);
inline constexpr std::size_t kFirstEdgeResidual = 2;

}  // namespace corefleck
