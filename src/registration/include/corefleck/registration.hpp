#pragma once

#include "corefleck/calibration.hpp"
#include "corefleck/error.hpp"
#include "corefleck/segmentation.hpp"

#include <opencv2/core.hpp>

namespace corefleck {

/// registration: lays the face of a core onto another photo's face of the same core.
///   in     FaceDetail of either photo
///   out    Registration: the turn and the transform between the two faces' coordinates
///   fails  faces_differ, faces_mirrored
///   Both faces are flat and in millimetres, so what lies between them is a turn and a small shift; what the
///   two calibrations disagree in (scale, tilt) is fitted too, as a small affine remainder. Wetting, light
///   and changed spots may differ: only local detail is compared, and a part of the face that changed is left
///   out of the fit. Deterministic on any number of threads; reads no file, prints nothing.

/// What of a face can be recognised again: grains, pits, mottle and spots, freed from light and level. A few
/// megabytes, so that it outlives the face's own planes.
struct FaceDetail {
  FaceGrid grid;         ///< of `fine` and `seen`; about 0.1 mm a pixel
  cv::Mat fine;          ///< CV_32FC1: detail of 0.3 to 2 mm, about 1 rms, within +/- 2; 0 where not seen
  cv::Mat seen;          ///< CV_8UC1: 255 where the photo shows the face (no chip, glare, rim band)
  FaceGrid coarse_grid;  ///< of `coarse` and `coarse_seen`; about 0.4 mm a pixel
  cv::Mat coarse;        ///< CV_32FC1: detail of 1 to 6 mm
  cv::Mat coarse_seen;
  Millimetres radius;
};

/// To be taken while the face's luminance is there.
[[nodiscard]] FaceDetail face_detail(const CalibratedFace& face, const SpotMap& spots);

/// Face coordinates of the first photo to those of the second (mm, y up): q = (linear p + shift) / (1 +
/// nearness . p). A plane photographed twice by a pinhole camera maps onto itself so; with two right
/// calibrations `linear` is a rotation and `nearness` is zero.
struct FaceTransform {
  cv::Matx22d linear = cv::Matx22d::eye();
  cv::Vec2d shift_mm{0.0, 0.0};
  cv::Vec2d nearness_per_mm{0.0, 0.0};
  [[nodiscard]] cv::Point2d operator()(const cv::Point2d& p_mm) const {
    const double w = 1.0 + nearness_per_mm[0] * p_mm.x + nearness_per_mm[1] * p_mm.y;
    return {(linear(0, 0) * p_mm.x + linear(0, 1) * p_mm.y + shift_mm[0]) / w,
            (linear(1, 0) * p_mm.x + linear(1, 1) * p_mm.y + shift_mm[1]) / w};
  }
  [[nodiscard]] FaceTransform inverse() const;
  /// Counterclockwise turn in (-180, 180]: that of the rotation nearest to the map at the first face's
  /// centre.
  [[nodiscard]] double rotation_deg() const;
  /// Area on the second face's coordinates over that on the first's at a place of the first: what the same
  /// piece of surface measures in the two photos. 1 where both calibrations agree.
  [[nodiscard]] double area_ratio(const cv::Point2d& p_mm = {0.0, 0.0}) const;
  /// Homogeneous matrix of the map.
  [[nodiscard]] cv::Matx33d matrix() const;
  /// The map's derivative at a place of the first face.
  [[nodiscard]] cv::Matx22d jacobian(const cv::Point2d& p_mm = {0.0, 0.0}) const;
};

/// The same between two grids: homogeneous (column, row, 1) of the first to those of the second.
[[nodiscard]] cv::Matx33d grid_map(const FaceGrid& first,
                                   const FaceGrid& second,
                                   const FaceTransform& transform);

struct Registration {
  FaceTransform first_to_second;
  double rotation_deg;    ///< of `first_to_second`
  double rotation_u_deg;  ///< standard uncertainty, from the scatter of the parts about the fit
  double residual_mm;  ///< rms over the parts that agree: how far one lies from where the transform puts it
  double score;        ///< share of the face's parts that agree with the fit, 0 to 1
  int parts, parts_agreeing;
  /// Largest and smallest stretch at the first face's centre, less 1, in %: how far the scales and tilts
  /// disagree.
  double stretch_max_pct, stretch_min_pct;
};

/// A pair whose score is below is refused: parts of two different cores agree by chance only.
inline constexpr double kSameFaceScore = 0.30;

/// faces_differ: no turn makes enough parts agree (`what` holds the best score). faces_mirrored: one does
/// once the second face is flipped.
[[nodiscard]] Result<Registration> register_faces(const FaceDetail& first, const FaceDetail& second);

}  // namespace corefleck
