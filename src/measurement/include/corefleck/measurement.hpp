#pragma once

#include "corefleck/calibration.hpp"
#include "corefleck/estimate.hpp"
#include "corefleck/segmentation.hpp"

#include <optional>
#include <string>
#include <vector>

namespace corefleck {

/// measurement: from a spot map to figures with uncertainty.
///   in     CalibratedFace, SpotMap
///   out    FaceMeasurement: every figure of summary.csv, spots.csv and sizes.csv; empty = not measured
///   Shape names: ISO 9276-6; distributions: ISO 9276-1; uncertainty: JCGM 100:2008. Never fails.

struct SpotFigures {
  int spot_id;
  double x_mm, y_mm, r_mm;
  double clock_deg;  ///< direction from the face's centre, 0 at the top of the photo, clockwise
  Estimate<SquareMillimetres> area;
  Millimetres ecd, feret_max, feret_min, perimeter;
  double form_factor, aspect_ratio, solidity;
  std::optional<Lightness> mean_L, peak_L, contrast_dL;
  double L_given_back;  ///< part of mean_L that blur had carried over the outline; 0 without a grey card
  double contrast_weber;
  bool touches_rim;
};

/// One class of the size distribution: ecd_from <= ECD < ecd_to.
struct SizeClass {
  Millimetres ecd_from, ecd_to;
  int count;
  double count_pct;
  SquareMillimetres area;
  double area_pct;
};

/// Progression of the size classes: ratio of neighbouring class limits.
enum class SizeClasses { sqrt2, r5, r10, r20 };

struct FaceMeasurement {
  Estimate<MmPerPx> scale;
  double tilt_deg;
  Estimate<Millimetres> core_diameter;
  SquareMillimetres face_area, measured_area, spot_area;
  double glare_pct;
  int spot_count;
  double spot_density_per_cm2;
  Estimate<Quantity<struct PercentUnit>> area_fraction;           ///< % of the measured area
  std::optional<Millimetres> ecd_d10, ecd_d50, ecd_d90, ecd_max;  ///< empty without spots
  std::optional<Lightness> matrix_L, spot_L;
  std::optional<Estimate<Lightness>> contrast_dL;
  std::optional<double> contrast_weber, contrast_dE00;
  int pit_count;
  double pit_area_fraction_pct;
  /// Relative standard uncertainty of the card's stated reflectance, and of differences of lightness by what
  /// the photo's tones are off sRGB's: in every lightness, spots or none.
  double card_reflectance_u_rel = 0.0, tones_u_rel = 0.0;

  std::vector<SpotFigures> spots;  ///< in the order of spot_id
  std::vector<SizeClass> sizes;    ///< without gaps from the smallest to the largest class that holds a spot
  std::vector<UncertaintyBudget>
      budgets;                    ///< scale, area fraction, contrast, and the area of the median spot
  std::vector<Caution> cautions;  ///< of every stage, each kind once
};

struct MeasurementSettings {
  Millimetres min_spot{0.5};
  SizeClasses size_classes = SizeClasses::sqrt2;
  std::optional<Millimetres> core_diameter;  ///< nominal, cross-check only
  bool camera_tones = false;                 ///< of the photo, as `Photo::has_camera_tones` says
};

[[nodiscard]] FaceMeasurement measure(const CalibratedFace& face,
                                      const SpotMap& spots,
                                      const MeasurementSettings& settings);

/// Share of a boundary's error that is each photo's own where photos of one face are held against each other.
/// The rest is in all of them, with one sign: the flanks are the same, and half contrast errs on them in the
/// same direction. Set on 118 rendered cores of two to four visits, every visit with its own camera, place,
/// light and noise: with it the interval of a growth rate held the truth in 95.8 % of all pairs of visits of
/// one core, in 96.7 % of all threes and in 94.9 % of all fours; with the whole error in nearly all, at twice
/// the width; with a tenth in 93.6 % of the pairs. On 46 other rendered cores it held 95 to 97 % of 4400 area
/// changes of a spot; between a dry and a wet photo 0.4 would (283 spots of 7 cores, all spots of a core
/// together 0.2).
inline constexpr double kOwnShareOfBoundary = 0.3;

/// Which part of the face an area fraction is of.
enum class MeasuredArea {
  own,    ///< the photo's own, so that the error of its radius is in it
  common  ///< what both photos show, the same for either
};

/// Standard uncertainty of the area fraction, %, where it is held against other photos of the same face, as
/// `compare` and `track` do: what errs in the same way in all of them does not count (JCGM 100:2008, 5.2, the
/// covariances). That is all but kOwnShareOfBoundary of the boundary error that all spots have in common, and
/// for the common area its own size.
[[nodiscard]] double u_between_photos_pct(const FaceMeasurement& figures, MeasuredArea area);

}  // namespace corefleck
