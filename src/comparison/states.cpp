#include "groups.hpp"

#include "corefleck/colorimetry.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <string>

namespace corefleck {
namespace {

/// dL*/dlnY for L* above 8 (ISO/CIE 11664-4).
double slope(Lightness L) { return (L.number() + 16.0) / 3.0; }

std::map<std::string, UncertaintyComponent> contrast_components(const FaceMeasurement& figures) {
  std::map<std::string, UncertaintyComponent> components;
  for (const UncertaintyBudget& budget : figures.budgets)
    if (budget.figure == "contrast_dL")
      for (const UncertaintyComponent& component : budget.components) components[component.name] = component;
  return components;
}

/// Both photos hold the same card: what its stated reflectance is off moves both levels alike, and what the
/// tones are off is off between the levels. All else is each photo's own.
std::optional<Estimate<Lightness>> darkening(const FaceToCompare& dry, const FaceToCompare& wet) {
  if (!dry.figures.matrix_L || !wet.figures.matrix_L) return std::nullopt;
  const Lightness of_dry = *dry.figures.matrix_L, of_wet = *wet.figures.matrix_L;
  double u = 0.0, reflectance = 0.0, tones = 0.0;
  for (const auto* photo : {&dry, &wet}) {
    const double rise = slope(*photo->figures.matrix_L);
    const auto& card = photo->face.card;
    u = std::hypot(u, card ? rise * 0.01 * card->u_level_pct : 0.0);
    u = std::hypot(u, rise * photo->face.card_light.u_rel);
    reflectance = std::max(reflectance, photo->figures.card_reflectance_u_rel);
    tones = std::max(tones, photo->figures.tones_u_rel);
  }
  u = std::hypot(u, (slope(of_dry) - slope(of_wet)) * reflectance);
  u = std::hypot(u, (of_dry - of_wet).number() * tones);
  return Estimate<Lightness>{of_dry - of_wet, Lightness{u}};
}

/// Of a component of the contrast's budget, the share that is each photo's own: none of the one card's
/// reflectance, and of the outlines what they do not err in alike.
double own_share(const std::string& component) {
  if (component == "card reflectance" || component == "tone curve") return 0.0;
  return component == "boundary" ? kOwnShareOfBoundary : 1.0;
}

/// Root sum of squares over both photos' budgets. What is common to both enters by the difference of its
/// effects (JCGM 100:2008, 5.2.2, correlation 1): it scales both contrasts rather than shifting one of them.
double gain_u(const FaceToCompare& dry, const FaceToCompare& wet) {
  const auto of_dry = contrast_components(dry.figures), of_wet = contrast_components(wet.figures);
  double u = 0.0;
  std::map<std::string, double> common;
  for (const auto* components : {&of_dry, &of_wet})
    for (const auto& [name, component] : *components) {
      const double signed_part = component.sensitivity * component.standard_uncertainty,
                   own = own_share(name);
      u = std::hypot(u, own * signed_part);
      common[name] += (components == &of_wet ? 1.0 : -1.0) * std::sqrt(1.0 - own * own) * signed_part;
    }
  for (const auto& [name, difference] : common) u = std::hypot(u, difference);
  return u;
}

struct StateFigures {
  std::optional<SquareMillimetres> area;
  std::optional<Lightness> mean_L, contrast;
  std::optional<double> weber;
};

/// Means by area over the spots of a group.
StateFigures state_figures(const FaceToCompare& photo, const std::vector<int>& ids) {
  StateFigures result;
  if (ids.empty()) return result;
  double area = 0.0, L = 0.0, contrast = 0.0, weber = 0.0;
  bool lightness_known = true;
  for (const int id : ids) {
    const SpotFigures& spot = photo.figures_of(id);
    const double weight = spot.area.value.number();
    area += weight;
    weber += weight * spot.contrast_weber;
    lightness_known = lightness_known && spot.mean_L && spot.contrast_dL;
    if (!lightness_known) continue;
    L += weight * spot.mean_L->number();
    contrast += weight * spot.contrast_dL->number();
  }
  area = std::max(area, 1e-12);
  result.area = SquareMillimetres{area};
  result.weber = weber / area;
  if (lightness_known) {
    result.mean_L = Lightness{L / area};
    result.contrast = Lightness{contrast / area};
  }
  return result;
}

SpotStates states_of(const FaceToCompare& dry,
                     const FaceToCompare& wet,
                     const Registration& registration,
                     const SpotGroup& group) {
  SpotStates spot{};
  spot.dry_ids = group.first_ids;
  spot.wet_ids = group.second_ids;
  spot.measurable = group.measurable();
  const cv::Point2d at = group.first_ids.empty()
                             ? registration.first_to_second.inverse()(sum_of(wet, group.second_ids).centre_mm)
                             : sum_of(dry, group.first_ids).centre_mm;
  spot.x_mm = at.x;
  spot.y_mm = at.y;
  const StateFigures of_dry = state_figures(dry, group.first_ids),
                     of_wet = state_figures(wet, group.second_ids);
  spot.area_dry = of_dry.area;
  spot.area_wet = of_wet.area;
  spot.mean_L_dry = of_dry.mean_L;
  spot.mean_L_wet = of_wet.mean_L;
  spot.contrast_dry = of_dry.contrast;
  spot.contrast_wet = of_wet.contrast;
  spot.weber_dry = of_dry.weber;
  spot.weber_wet = of_wet.weber;
  return spot;
}

/// Weighted by the dry area in both states, so that a spot whose outline moves with its contrast weighs the
/// same.
std::optional<Estimate<Lightness>> gain_of_both(const std::vector<SpotStates>& spots, double u) {
  double area = 0.0, gain = 0.0;
  for (const SpotStates& spot : spots) {
    if (!spot.measurable || !spot.contrast_dry || !spot.contrast_wet) continue;
    area += spot.area_dry->number();
    gain += spot.area_dry->number() * (*spot.contrast_wet - *spot.contrast_dry).number();
  }
  if (area <= 0.0) return std::nullopt;
  return Estimate<Lightness>{Lightness{gain / area}, Lightness{u}};
}

void count_spots(StateContrast& result) {
  for (const SpotStates& spot : result.spots) {
    if (!spot.dry_ids.empty() && !spot.wet_ids.empty())
      ++result.both;
    else if (!spot.measurable)
      ++result.unmeasured;
    else
      ++(spot.wet_ids.empty() ? result.dry_only : result.wet_only);
  }
}

}  // namespace

StateContrast compare_states(const FaceToCompare& dry,
                             const FaceToCompare& wet,
                             const Registration& registration) {
  const SpotMatches matches = match_spots(dry, wet, registration);
  StateContrast result{};
  result.registration = registration;
  result.darkening = darkening(dry, wet);
  for (const SpotGroup& group : matches.groups)
    result.spots.push_back(states_of(dry, wet, registration, group));
  count_spots(result);
  const double u = gain_u(dry, wet);
  if (dry.figures.contrast_dL && wet.figures.contrast_dL)
    result.gain =
        Estimate<Lightness>{wet.figures.contrast_dL->value - dry.figures.contrast_dL->value, Lightness{u}};
  if (result.gain) result.gain_of_both = gain_of_both(result.spots, u);
  return result;
}

}  // namespace corefleck
