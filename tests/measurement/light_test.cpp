#include "drawn_photo.hpp"

#include "corefleck/measurement.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace corefleck;
using namespace corefleck::testing;

namespace {

FaceMeasurement measured(const CalibratedFace& face) {
  const auto map = find_spots(face, {});
  REQUIRE(map.has_value());
  return measure(face, *map, {});
}

// CIE 1976 L* (ISO/CIE 11664-4), computed: L* 50 at Y = 0.184187, L* 70 at Y = 0.40749; hence Weber 1.2124.
DrawnFace fifty_and_seventy() {
  DrawnFace drawn;
  drawn.matrix_Y = 0.184187;
  drawn.noise = 0.002;
  for (int k = 0; k < 6; ++k)
    drawn.spots.push_back({300.0 + 150.0 * std::cos(k * std::numbers::pi / 3.0),
                           300.0 + 150.0 * std::sin(k * std::numbers::pi / 3.0),
                           10.0 + 3.0 * k,
                           0.40749});
  return drawn;
}

}  // namespace

TEST_CASE("light: spots of L* 70 on a matrix of L* 50", "[measurement]") {
  const FaceMeasurement figures = measured(calibrated_face(fifty_and_seventy()));
  REQUIRE(figures.spot_count == 6);
  CHECK_THAT(figures.matrix_L->number(), WithinAbs(50.0, 0.05));
  CHECK_THAT(figures.spot_L->number(), WithinAbs(70.0, 0.2));
  CHECK_THAT(figures.contrast_dL->value.number(), WithinAbs(20.0, 0.2));
  CHECK_THAT(*figures.contrast_weber, WithinAbs(1.2124, 0.02));
  for (const SpotFigures& spot : figures.spots) {
    CHECK_THAT(spot.mean_L->number(), WithinAbs(70.0, 0.4));
    CHECK_THAT(spot.contrast_weber, WithinAbs(1.2124, 0.03));
    CHECK(spot.peak_L->number() >= spot.mean_L->number() - 0.2);
  }
}

// By hand: of neutral greys CIEDE2000 has only its lightness term, dL / S_L with S_L = 1 + 0.015 (Lm - 50)^2
// / sqrt(20 + (Lm - 50)^2), Lm = 60: S_L = 1 + 1.5 / sqrt 120 = 1.13693; 20 / 1.13693 = 17.591.
TEST_CASE("light: the colour difference of neutral spots is their lightness term", "[measurement]") {
  DrawnFace drawn = fifty_and_seventy();
  drawn.blur_px = 0.35;  // on a sharp face 16.96 came out (regression), hence the tolerance
  const FaceMeasurement figures = measured(calibrated_face(drawn));
  CHECK_THAT(*figures.contrast_dE00, WithinAbs(17.591, 0.8));
}

// By hand: six discs of radius 10, 13 ... 25 px: pi (100 + 169 + 256 + 361 + 484 + 625) = 6267.5 px; measured
// circle: radius 297 px less the 10 px of the rim band, pi 287^2 = 258 770 px: 2.4220 %.
TEST_CASE("light: the area fraction of six discs", "[measurement]") {
  const FaceMeasurement figures = measured(calibrated_face(fifty_and_seventy()));
  CHECK_THAT(figures.area_fraction.value.number(), WithinRel(2.4220, 0.008));
  CHECK_THAT(figures.spot_area.number(), WithinRel(62.675, 0.008));
  CHECK_THAT(figures.measured_area.number(), WithinRel(2587.7, 0.001));
  CHECK_THAT(figures.face_area.number(), WithinRel(std::numbers::pi * 29.7 * 29.7, 1e-9));
  CHECK_THAT(figures.spot_density_per_cm2, WithinRel(6.0 / 25.877, 0.001));
  CHECK(std::abs(figures.area_fraction.value.number() - 2.4220) < 2.0 * figures.area_fraction.u.number());
  CHECK(figures.glare_pct == 0.0);
}

// ISO 9276-1, number-weighted. By hand: ECD 2.0, 2.6, 3.2, 3.8, 4.4, 5.0 mm stand at 8.33, 25, 41.7, 58.3, 75
// and 91.7 %: d50 = 3.5, d10 = 2.0 + 0.6 x 0.1 = 2.06, d90 = 4.94.
TEST_CASE("light: percentiles of the six diameters", "[measurement]") {
  const FaceMeasurement figures = measured(calibrated_face(fifty_and_seventy()));
  CHECK_THAT(figures.ecd_d10->number(), WithinAbs(2.06, 0.015));
  CHECK_THAT(figures.ecd_d50->number(), WithinAbs(3.50, 0.015));
  CHECK_THAT(figures.ecd_d90->number(), WithinAbs(4.94, 0.02));
  CHECK_THAT(figures.ecd_max->number(), WithinAbs(5.00, 0.02));
}

TEST_CASE("light: without a card lightness stays empty and the other figures stand", "[measurement]") {
  CalibratedFace face = calibrated_face(fifty_and_seventy());
  face.absolute_luminance = false;
  face.card.reset();
  const FaceMeasurement figures = measured(face);
  CHECK(figures.spot_count == 6);
  CHECK_FALSE(figures.matrix_L.has_value());
  CHECK_FALSE(figures.spot_L.has_value());
  CHECK_FALSE(figures.contrast_dL.has_value());
  CHECK_FALSE(figures.contrast_dE00.has_value());
  CHECK_FALSE(figures.spots.front().mean_L.has_value());
  REQUIRE(figures.contrast_weber.has_value());
  CHECK_THAT(*figures.contrast_weber, WithinAbs(1.2124, 0.02));
}

TEST_CASE("light: a face without spots has a matrix and no figure of spots", "[measurement]") {
  const FaceMeasurement figures = measured(calibrated_face({}));
  CHECK(figures.spot_count == 0);
  CHECK(figures.area_fraction.value.number() == 0.0);
  CHECK(figures.matrix_L.has_value());
  CHECK_FALSE(figures.spot_L.has_value());
  CHECK_FALSE(figures.contrast_dL.has_value());
  CHECK_FALSE(figures.contrast_weber.has_value());
  CHECK_FALSE(figures.ecd_d50.has_value());
  CHECK_FALSE(figures.ecd_max.has_value());
  CHECK(figures.sizes.empty());
  CHECK(figures.spots.empty());
}

// By hand: one pit of radius 10 px in pi 287^2 px: 0.1214 %. Pits stay in the measured area.
TEST_CASE("light: pits are counted apart from spots", "[measurement]") {
  DrawnFace drawn;
  drawn.spots = {{220.0, 300.0, 10.0, 0.05}, {400.0, 300.0, 12.0, 0.5}};
  const FaceMeasurement figures = measured(calibrated_face(drawn));
  CHECK(figures.spot_count == 1);
  CHECK(figures.pit_count == 1);
  CHECK_THAT(figures.pit_area_fraction_pct, WithinRel(0.1214, 0.05));
}

TEST_CASE("light: every stage's cautions are gathered, each kind once with all its figures",
          "[measurement]") {
  DrawnFace drawn = fifty_and_seventy();
  drawn.blur_px = 7.0;
  CalibratedFace face = calibrated_face(drawn);
  face.cautions = {{CautionKind::strong_tilt, "tilt 9 deg"},
                   {CautionKind::strong_tilt, "seen from the left"},
                   {CautionKind::light_uneven, "40 %"}};
  const FaceMeasurement figures = measured(face);
  const auto times = [&](CautionKind kind) {
    return std::count_if(
        figures.cautions.begin(), figures.cautions.end(), [&](const Caution& c) { return c.kind == kind; });
  };
  CHECK(times(CautionKind::strong_tilt) == 1);
  CHECK(figures.cautions.front().detail == "tilt 9 deg; seen from the left");
  CHECK(times(CautionKind::light_uneven) == 1);
  CHECK(times(CautionKind::out_of_focus) == 1);
}
