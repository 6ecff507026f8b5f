#pragma once

#include "corefleck/calibration.hpp"
#include "corefleck/estimate.hpp"
#include "corefleck/measurement.hpp"
#include "corefleck/registration.hpp"
#include "corefleck/segmentation.hpp"

#include <optional>
#include <string_view>
#include <vector>

namespace corefleck {

/// comparison: two measured faces of one core, laid onto each other, spot by spot.
///   in     two faces with their spot maps and figures, and the registration of the first onto the second
///   out    StateContrast (dry, wet) or FaceChanges (before, after)
///   Never fails. Needs of the faces: grid and colour; of the maps: labels, outside, spots. Deterministic.
///   Only the common area counts: what both photos show, less each one's rim band, chips, glare and edits.

/// What of a measured face a comparison reads; the three belong to one photo.
struct FaceToCompare {
  const CalibratedFace& face;
  const SpotMap& map;
  const FaceMeasurement& figures;
  /// Of the spot with this number.
  [[nodiscard]] const SpotFigures& figures_of(int id) const { return figures.spots[map.index_of(id)]; }
};

/// Spots of the first and of the second photo that lie on each other: one of each, or several where spots are
/// one in one photo and parted in the other, or of one photo alone.
struct SpotGroup {
  std::vector<int> first_ids, second_ids;  ///< ascending; one of the two may be empty
  /// A spot of it lies in good part on another group's spot too, whose share of its area is not known.
  bool entangled = false;
  /// Some of it lies, in either photo, where nothing is measured or on the rim band's edge.
  bool cut = false;
  /// A dark mark that only the before (first) or the after (second) photo shows, a pencil line for one, hides
  /// much of a spot of the other photo. A mark takes light away and never adds any.
  bool marked_before = false, marked_after = false;
  /// What such marks may hide, in the first photo's millimetres.
  SquareMillimetres hidden_before{0.0}, hidden_after{0.0};
  /// Its areas can be compared.
  [[nodiscard]] bool measurable() const { return !cut && !marked_before && !marked_after; }
};

struct SpotMatches {
  std::vector<SpotGroup>
      groups;  ///< by the first photo's smallest id, then what the second photo alone shows
  SquareMillimetres common_area;  ///< in the first photo's millimetres
  /// Share of each spot's pixels inside the common area, in the order of the spots.
  std::vector<double> first_shares, second_shares;
  /// Where a dark place or mark of the before (first) or the after (second) photo may hide what is there: on
  /// the first photo's grid. CV_8UC1
  cv::Mat dark_before, dark_after;
};

[[nodiscard]] SpotMatches match_spots(const FaceToCompare& first,
                                      const FaceToCompare& second,
                                      const Registration& registration);

/// Both photos show one face, so its millimetres must agree: how much larger it comes out in the second
/// photo, relative, where that is more than the two scales' 95 % intervals allow.
[[nodiscard]] std::optional<double> scale_disagreement(const Registration& registration,
                                                       const FaceMeasurement& first,
                                                       const FaceMeasurement& second);

enum class ChangeKind {
  fresh,   ///< "new": after alone, and before there was nothing of it
  grown,   ///< larger by more than chance and uncertainty explain
  steady,  ///< neither larger nor smaller by more than that
  shrunk,
  gone,       ///< before alone
  merged,     ///< what lay between several spots became spot, and they one
  split,      ///< the reverse
  unclear,    ///< in one photo alone, but the other shows a trace of it that does not count as a spot; or
              ///< larger or smaller by its outlines, where both photos show the same light or a spot lies on
              ///< another group's too
  unmeasured  ///< not comparable: cut by rim band, chip, glare or a dark mark in one of the photos
};

/// "new", "grown", ...: the word in changes.csv.
[[nodiscard]] std::string_view name(ChangeKind kind);

struct SpotChange {
  ChangeKind kind;
  std::vector<int> before_ids, after_ids;
  double x_mm, y_mm;  ///< centre, in the before photo's face coordinates
  /// Of all spots of the group together. The after area is in the before photo's millimetres: what the two
  /// scales disagree in is taken out, since both photos show the same face.
  std::optional<SquareMillimetres> area_before, area_after;
  std::optional<Estimate<SquareMillimetres>> area_change;  ///< nothing where not all of it can be compared
};

struct FaceChanges {
  Registration registration;
  SquareMillimetres common_area;
  Quantity<struct PercentUnit> fraction_before, fraction_after;  ///< of the common area
  Estimate<Quantity<struct PercentUnit>> fraction_change;
  int count_before, count_after;    ///< spots of the common area
  std::vector<SpotChange> changes;  ///< by kind, then by the size of the change
  [[nodiscard]] int count(ChangeKind kind) const;
};

[[nodiscard]] FaceChanges compare_faces(const FaceToCompare& before,
                                        const FaceToCompare& after,
                                        const Registration& registration);

/// A spot seen dry, wet or in both states. Several spots of one state together where the other shows one.
struct SpotStates {
  std::vector<int> dry_ids, wet_ids;
  double x_mm, y_mm;  ///< in the dry photo's face coordinates
  bool
      measurable;  ///< false: the other photo does not measure its place, so "seen in one state" says nothing
  std::optional<SquareMillimetres> area_dry, area_wet;
  std::optional<Lightness> mean_L_dry, mean_L_wet, contrast_dry, contrast_wet;
  std::optional<double> weber_dry, weber_wet;
};

struct StateContrast {
  Registration registration;
  std::optional<Estimate<Lightness>> darkening;  ///< matrix dry less matrix wet
  std::optional<Estimate<Lightness>> gain;       ///< contrast of the wet photo's spots less the dry photo's
  std::optional<Estimate<Lightness>> gain_of_both;  ///< of the spots seen in both states alone
  int both, dry_only, wet_only, unmeasured;
  std::vector<SpotStates> spots;
};

[[nodiscard]] StateContrast compare_states(const FaceToCompare& dry,
                                           const FaceToCompare& wet,
                                           const Registration& registration);

}  // namespace corefleck
