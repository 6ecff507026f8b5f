#include "drawn_photo.hpp"

#include "corefleck/measurement.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace corefleck;
using namespace corefleck::testing;

namespace {

DrawnFace spotted_face() {
  DrawnFace drawn;
  drawn.spots = {{200.0, 300.0, 8.0, 0.5}, {400.0, 300.0, 14.0, 0.5}, {300.0, 420.0, 11.0, 0.45}};
  return drawn;
}

FaceMeasurement measured(const CalibratedFace& face) {
  const auto map = find_spots(face, {});
  REQUIRE(map.has_value());
  return measure(face, *map, {});
}

const UncertaintyBudget& budget(const FaceMeasurement& figures, const std::string& figure) {
  const auto found = std::find_if(figures.budgets.begin(),
                                  figures.budgets.end(),
                                  [&](const UncertaintyBudget& b) { return b.figure == figure; });
  REQUIRE(found != figures.budgets.end());
  return *found;
}

}  // namespace

// JCGM 100:2008, 5.1.2 eq. 10 and table H.1: u_c^2 = sum (c_i u_i)^2.
TEST_CASE("budget: each combined uncertainty is the root sum of squares of its named components",
          "[measurement]") {
  const FaceMeasurement figures = measured(calibrated_face(spotted_face()));
  CHECK(figures.budgets.size() == 4);
  for (const UncertaintyBudget& b : figures.budgets) {
    INFO(b.figure);
    CHECK_FALSE(b.components.empty());
    double squares = 0.0;
    for (const UncertaintyComponent& component : b.components) {
      INFO(component.name);
      CHECK_FALSE(component.name.empty());
      CHECK_FALSE(component.origin.empty());
      CHECK_FALSE(component.unit.empty());
      CHECK_THAT(component.contribution,
                 WithinAbs(std::abs(component.sensitivity) * component.standard_uncertainty, 1e-12));
      squares += component.contribution * component.contribution;
    }
    CHECK(b.combined > 0.0);
    CHECK_THAT(b.combined, WithinRel(std::sqrt(squares), 1e-9));
  }
}

TEST_CASE("budget: the figures carry what their budgets combine", "[measurement]") {
  const FaceMeasurement figures = measured(calibrated_face(spotted_face()));
  CHECK(figures.area_fraction.u.number() == budget(figures, "area_fraction_pct").combined);
  CHECK(figures.contrast_dL->u.number() == budget(figures, "contrast_dL").combined);
  CHECK_THAT(100.0 * (figures.scale.u / figures.scale.value),
             WithinRel(budget(figures, "mm_per_px").combined, 1e-9));
  // Three spots, largest first: the one of median size is the second.
  CHECK_THAT(figures.spots[1].area.u.number(), WithinRel(budget(figures, "area_mm2").combined, 1e-9));
}

// The area fraction is a ratio of areas of one photo: the scale cancels.
TEST_CASE("budget: the scale's uncertainty widens areas and not the area fraction", "[measurement]") {
  CalibratedFace face = calibrated_face(spotted_face());
  const FaceMeasurement fine = measured(face);
  face.pose.scale_u_rel = 0.05;
  const FaceMeasurement coarse = measured(face);
  CHECK(coarse.area_fraction.u.number() == fine.area_fraction.u.number());
  CHECK(coarse.spots[0].area.u.number() > 5.0 * fine.spots[0].area.u.number());
  // By hand: an area goes with the square of the scale, so 2 x 5 % = 10 %, and a little from the boundary.
  CHECK_THAT(coarse.spots[0].area.u / coarse.spots[0].area.value, WithinRel(0.10, 0.1));
}

TEST_CASE("budget: noise and blur widen the boundary", "[measurement]") {
  const auto boundary = [](const DrawnFace& drawn) {
    return budget(measured(calibrated_face(drawn)), "area_mm2").components.front();
  };
  DrawnFace drawn = spotted_face();
  const UncertaintyComponent clean = boundary(drawn);
  CHECK(clean.name == "boundary");
  drawn.blur_px = 2.2;
  drawn.noise = 0.05;
  CHECK(boundary(drawn).standard_uncertainty > 1.3 * clean.standard_uncertainty);
}

// By hand: spots of 1.6 mm and above are three times the limit of 0.5 mm; none can fall below it.
TEST_CASE("budget: spots far above the size limit are not in doubt for being at it", "[measurement]") {
  const FaceMeasurement figures = measured(calibrated_face(spotted_face()));
  for (const UncertaintyComponent& component : budget(figures, "area_fraction_pct").components)
    if (component.name == "spots at the size limit") CHECK(component.contribution == 0.0);
}

TEST_CASE("budget: tones made by a camera leave the contrast in more doubt, and nothing else",
          "[measurement]") {
  const CalibratedFace face = calibrated_face(spotted_face());
  const auto map = find_spots(face, {});
  REQUIRE(map.has_value());
  MeasurementSettings settings;
  const FaceMeasurement plain = measure(face, *map, settings);
  settings.camera_tones = true;
  const FaceMeasurement camera = measure(face, *map, settings);
  CHECK(camera.contrast_dL->value.number() == plain.contrast_dL->value.number());
  CHECK(camera.contrast_dL->u.number() > 0.1 * camera.contrast_dL->value.number());
  CHECK(camera.contrast_dL->u.number() > 2.0 * plain.contrast_dL->u.number());
  CHECK(camera.area_fraction.u.number() == plain.area_fraction.u.number());
}

TEST_CASE(
    "budget: spots that may be reflections widen the area fraction by half their area, until they are struck",
    "[measurement]") {
  const CalibratedFace face = calibrated_face(spotted_face());
  auto map = find_spots(face, {});
  REQUIRE(map.has_value());
  const double plain = measure(face, *map, {}).area_fraction.u.number();
  map->spots.front().may_be_reflection = true;
  const FaceMeasurement doubted = measure(face, *map, {});
  const double half_pct = 0.5 * 100.0 * map->spots.front().area_px / map->measured_area_px;
  CHECK_THAT(doubted.area_fraction.u.number(), WithinRel(std::hypot(plain, half_pct), 1e-9));
  map->spots.erase(map->spots.begin());
  CHECK(measure(face, *map, {}).area_fraction.u.number() < plain);
}

TEST_CASE("budget: without spots neither contrast nor a median spot has one", "[measurement]") {
  const FaceMeasurement figures = measured(calibrated_face({}));
  CHECK(figures.budgets.size() == 2);
}

TEST_CASE(
    "budget: between photos of one face the boundary error of all spots counts for three tenths, and the "
    "radius only where each photo has its own area",
    "[measurement]") {
  const FaceMeasurement figures = measured(calibrated_face(spotted_face()));
  double own = 0.0, common = 0.0;
  for (const UncertaintyComponent& component : budget(figures, "area_fraction_pct").components) {
    const double part = component.contribution * (component.name == "boundary, all spots" ? 0.3 : 1.0);
    own += part * part;
    if (component.name != "exclusion") common += part * part;
  }
  CHECK(common < own);
  CHECK_THAT(u_between_photos_pct(figures, MeasuredArea::own), WithinRel(std::sqrt(own), 1e-12));
  CHECK_THAT(u_between_photos_pct(figures, MeasuredArea::common), WithinRel(std::sqrt(common), 1e-12));
  CHECK(u_between_photos_pct(figures, MeasuredArea::own) < figures.area_fraction.u.number());
}
