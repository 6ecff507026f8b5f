#include "budgets.hpp"

#include "corefleck/sums.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <vector>

namespace corefleck {
namespace {

constexpr double kFaintIsSpot = 0.4;  // standard deviation of the share of faint regions that are spots
// How far a picture's tones depart from sRGB's between matrix and spot, of the contrast; no photo tells. What
// a camera writes is rendered for looks: 5 to 28 % and up to 34 % more contrast under the S-shaped curves of
// two renderers, little under a neutral picture style (common practice, no source).
constexpr double kToneCurve_rel = 0.02, kCameraTones_rel = 0.10;
constexpr double kDrift_rel = 0.015;  // standard deviation over the face; set on rendered photos
constexpr const char* kOfAllSpots = "boundary, all spots";
constexpr const char* kExclusion = "exclusion";

void add(UncertaintyBudget& budget,
         std::string name,
         double u,
         std::string unit,
         double sensitivity,
         std::string origin) {
  const double contribution = std::abs(sensitivity) * u;
  budget.components.push_back(
      {std::move(name), u, std::move(unit), sensitivity, contribution, std::move(origin)});
  budget.combined = std::hypot(budget.combined, contribution);
}

/// Standard uncertainty of all spots' area together, px^2: what each outline has of its own, and what all
/// share.
struct BoundaryDoubt {
  double own, shared;
};

BoundaryDoubt boundary_doubt(const SpotMap& map) {
  double squares = 0.0, sum = 0.0;
  for (const Region& spot : map.spots) {
    squares += spot.u_area_px * spot.u_area_px;
    sum += spot.u_area_px;
  }
  return {std::sqrt(squares), kSharedBoundary * sum};
}

void add_boundaries(UncertaintyBudget& budget, const SpotMap& map, double per_px) {
  const BoundaryDoubt edge = boundary_doubt(map);
  add(budget,
      "boundary, each spot",
      edge.own,
      "px2",
      per_px,
      "scatter of plateau and ground of each spot over the slope at its edge");
  add(budget,
      kOfAllSpots,
      edge.shared,
      "px2",
      per_px,
      "share of the boundary error that all spots have in common");
}

/// Regions that may or may not be spots.
void add_doubtful_spots(UncertaintyBudget& budget,
                        const FaceGrid& grid,
                        const SpotMap& map,
                        const std::vector<SpotFigures>& spots,
                        Millimetres min_spot,
                        double per_px) {
  const double pixel_mm2 = grid.pitch.number() * grid.pitch.number();
  double marginal = 0.0, at_rim = 0.0;
  for (const SpotFigures& spot : spots) {
    const double area_px = spot.area.value.number() / pixel_mm2;
    if (spot.ecd.number() < kNearSizeLimit * min_spot.number()) marginal += area_px * area_px;
    if (spot.touches_rim) at_rim += area_px;
  }
  add(budget,
      "one smallest spot",
      0.25 * CV_PI * min_spot.number() * min_spot.number() / pixel_mm2 / 2.0,
      "px2",
      per_px,
      "one spot of the smallest size, missed or taken wrongly; all that is left to doubt on a face without "
      "spots");
  add(budget,
      "faint regions",
      kFaintIsSpot * map.faint_area_px,
      "px2",
      per_px,
      "light regions left out as hardly lighter than the matrix's mottle, some of which may be spots");
  add(budget,
      "possible reflections",
      kRaggedIsReflection * map.doubtful_area_px(),
      "px2",
      per_px,
      "ragged spots on a face that reflects, some of which may be reflections");
  add(budget,
      "spots at the rim",
      kRimIsChip * at_rim,
      "px2",
      per_px,
      "light regions that meet the rim band, some of which may be chips left by the drill");
  add(budget,
      "spots at the size limit",
      kDoubtAtSizeLimit * std::sqrt(marginal),
      "px2",
      per_px,
      "spots within 15 % of the smallest size reported may fall on either side of it");
}

/// How well the card's level is known on matrix and spots. `both`: slope of L* on the spots less that on the
/// matrix.
void add_card_doubts(UncertaintyBudget& budget,
                     const CalibratedFace& face,
                     const FaceMeasurement& figures,
                     double both) {
  add(budget,
      "card level",
      0.01 * face.card->u_level_pct,
      "relative",
      both,
      "scatter and gradient over the card");
  add(budget,
      "card reflectance",
      figures.card_reflectance_u_rel,
      "relative",
      both,
      "usual tolerance of grey cards");
  add(budget,
      "card place",
      face.card_light.u_rel,
      "relative",
      both,
      "light on the card against light on the face, from a smooth light fitted to both");
}

}  // namespace

double tones_u_rel(bool camera_tones) { return camera_tones ? kCameraTones_rel : kToneCurve_rel; }

UncertaintyBudget scale_budget(const CalibratedFace& face) {
  UncertaintyBudget budget{"mm_per_px", "%", face.pose.scale_components, 100.0 * face.pose.scale_u_rel};
  return budget;
}

UncertaintyBudget area_fraction_budget(const CalibratedFace& face,
                                       const SpotMap& map,
                                       const FaceMeasurement& figures,
                                       Millimetres min_spot) {
  UncertaintyBudget budget{"area_fraction_pct", "%", {}, 0.0};
  const double per_px = 100.0 / std::max(map.measured_area_px, 1.0);
  add_boundaries(budget, map, per_px);
  add_doubtful_spots(budget, face.grid, map, figures.spots, min_spot, per_px);
  const double fraction = figures.area_fraction.value.number();
  add(budget,
      "light field",
      face.light.u_rel,
      "relative",
      kLightInArea * fraction,
      "scatter of the matrix about the light field, shifting each half-contrast level");
  const double rim_u = face.radius_u_mm / std::max(face.radius.number(), 1e-9);
  add(budget,
      kExclusion,
      rim_u,
      "relative",
      2.0 * fraction * face.radius.number() / std::max(face.radius.number() - face.rim_band.number(), 1e-9),
      "radius of the face, squared in the measured area");
  return budget;
}

double u_between_photos_pct(const FaceMeasurement& figures, MeasuredArea area) {
  const auto own_share = [area](const std::string& name) {
    if (name == kOfAllSpots) return kOwnShareOfBoundary;
    return name == kExclusion && area == MeasuredArea::common ? 0.0 : 1.0;
  };
  double u = 0.0;
  for (const UncertaintyBudget& budget : figures.budgets) {
    if (budget.figure != "area_fraction_pct") continue;
    for (const UncertaintyComponent& component : budget.components)
      u = std::hypot(u, own_share(component.name) * component.contribution);
  }
  return u;
}

UncertaintyBudget contrast_budget(const CalibratedFace& face,
                                  const SpotMap& map,
                                  const FaceMeasurement& figures) {
  UncertaintyBudget budget{"contrast_dL", "L*", {}, 0.0};
  if (!figures.matrix_L || !figures.spot_L || !face.card) return budget;
  const double matrix_slope = (figures.matrix_L->number() + 16.0) / 3.0;  // dL / dlnY for L* > 8
  const double spot_slope = (figures.spot_L->number() + 16.0) / 3.0;
  const double both = spot_slope - matrix_slope;
  const double height = figures.contrast_dL ? figures.contrast_dL->value.number() : 0.0;
  add_card_doubts(budget, face, figures, both);
  add(budget,
      "tone curve",
      figures.tones_u_rel,
      "relative",
      height,
      "tones against sRGB's: of a camera's own picture, where the file names one that wrote it in 8 bits");
  const double under_spots =
      spot_slope / std::sqrt(std::max(1.0, static_cast<double>(map.spots.size()) / kSpotsOfOneLight));
  add(budget,
      "light field",
      face.light.u_rel,
      "relative",
      under_spots,
      "slow changes of the plaster that look like light, under the spots");
  // What was evened out as light may have been the plaster's: then the spots there are made lighter or darker
  // with it.
  add(budget,
      "plaster's drift",
      std::min(kDrift_rel, 0.25 * 0.01 * face.light.change_pct),
      "relative",
      under_spots,
      "the part of the field evened out that may be the plaster's own, under the spots");
  double area = 0.0, given_back = 0.0;
  for (std::size_t i = 0; i < map.spots.size(); ++i) {
    area += map.spots[i].area_px;
    given_back += map.spots[i].area_px * figures.spots[i].L_given_back;
  }
  add(budget,
      "light given back",
      area > 0.0 ? given_back / area : 0.0,
      "L*",
      kDoubtOfGivingBack,
      "what blur carried over the outlines, reckoned from the blur and the softness of each spot");
  const BoundaryDoubt edge = boundary_doubt(map);
  add(budget,
      "boundary",
      area > 0.0 ? std::hypot(edge.own, edge.shared) / area : 0.0,
      "relative",
      kBoundaryInContrast * height,
      "pixels at the outline that belong to spot or matrix");
  return budget;
}

UncertaintyBudget median_spot_budget(const CalibratedFace& face,
                                     const SpotMap& map,
                                     const FaceMeasurement& figures) {
  UncertaintyBudget budget{"area_mm2", "mm2", {}, 0.0};
  if (map.spots.empty()) return budget;
  // Spots stand by number, which after edits is not by size.
  std::vector<std::size_t> by_area(map.spots.size());
  std::iota(by_area.begin(), by_area.end(), std::size_t{0});
  std::stable_sort(by_area.begin(), by_area.end(), [&](std::size_t a, std::size_t b) {
    return map.spots[a].area_px > map.spots[b].area_px;
  });
  const std::size_t middle = by_area[by_area.size() / 2];
  const double pitch = face.grid.pitch.number();
  add(budget,
      "boundary",
      map.spots[middle].u_area_px,
      "px2",
      pitch * pitch,
      "scatter of plateau and ground of the spot over the slope at its edge, and blur");
  add(budget,
      "scale",
      face.pose.scale_u_rel,
      "relative",
      2.0 * figures.spots[middle].area.value.number(),
      "scale, squared in an area");
  return budget;
}

}  // namespace corefleck
