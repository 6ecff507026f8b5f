#pragma once

#include "corefleck/calibration.hpp"

#include <opencv2/core.hpp>

#include <vector>

namespace corefleck {

/// segmentation: from a calibrated face to labelled spots, pits, glare and what is left out.
///   in     CalibratedFace
///   out    SpotMap: every region with its own half-contrast outline, on the face's grid
///   fails  face_not_measurable: nothing is left to measure
///   Deterministic; reads no file, prints nothing.

struct SegmentationSettings {
  Millimetres min_spot{0.5};  ///< smallest ECD that is reported as a spot
  FaceState state = FaceState::unknown;
  [[nodiscard]] std::vector<std::string> faults() const;
};

using Contour =
    std::vector<cv::Point2d>;  ///< closed polygon, grid pixels (column, row), pixel centres at integers

/// How a region came by its outline.
enum class RegionOrigin {
  found,
  cut,    ///< found, and a part of it was then left out by hand
  drawn,  ///< by hand: it has no plateau, ground, threshold, gradient or flank (not finite)
};

/// One spot or pit. Luminances are relative to the perfect diffuser, as CalibratedFace gives them.
struct Region {
  int id;           ///< 1, 2, ...; label in SpotMap::labels (spots only)
  cv::Rect box;     ///< of its pixels
  Contour outline;  ///< outer boundary at half contrast, sub-pixel
  std::vector<Contour> holes;
  double area_px;         ///< inside the outline, less the holes, sub-pixel, blur accounted for
  double u_area_px;       ///< standard uncertainty of the boundary alone
  double plateau;         ///< luminance of its inner part
  double ground;          ///< luminance of the matrix around it
  double threshold;       ///< luminance at half contrast: where the outline runs
  double edge_gradient;   ///< mean slope of luminance across the outline, per pixel
  double flank_sigma_px;  ///< Gaussian width of the flank at the outline, the photo's blur included
  bool touches_rim;
  bool may_be_reflection = false;  ///< nothing tells whether it is a spot or mirrors the lamp
  RegionOrigin origin = RegionOrigin::found;
};

struct SpotMap {
  cv::Mat labels;    ///< CV_32SC1: 0 none, n = spot n
  cv::Mat outside;   ///< CV_8UC1, values of `Outside`, glare now included
  cv::Mat pit_mask;  ///< CV_8UC1, 255 inside a pit
  /// As found: by area, largest first, numbered from 1 on. After edits numbers are missing and others follow
  /// them, but they still ascend.
  std::vector<Region> spots;
  std::vector<Region> pits;
  std::vector<Contour> glare;

  double mottle_rel;          ///< robust relative deviation of the matrix at the scale of the smallest spot
  double noise_rel;           ///< pixel noise of the matrix, relative
  double detection_contrast;  ///< smallest Weber contrast that seeds a spot
  double measured_area_px;    ///< face less everything outside
  double face_area_px;
  double glare_area_px;
  double blur_sigma_px;  ///< of the photo on the face: the bar's, or less where the spots' flanks show less
  double faint_area_px;  ///< of light regions that were left out as hardly lighter than the mottle
  std::vector<Caution> cautions;

  /// Where the spot with this number stands among the spots; `id` must be one of them.
  [[nodiscard]] std::size_t index_of(int id) const;
  [[nodiscard]] const Region& spot(int id) const { return spots[index_of(id)]; }
  /// The largest number of a spot; 0 where there is none.
  [[nodiscard]] int largest_id() const { return spots.empty() ? 0 : spots.back().id; }
  /// Area of the spots that may be reflections.
  [[nodiscard]] double doubtful_area_px() const;
};

[[nodiscard]] Result<SpotMap> find_spots(const CalibratedFace& face, const SegmentationSettings& settings);

}  // namespace corefleck
