#include "drawn_photo.hpp"

#include "corefleck/segmentation.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

using namespace corefleck;
using namespace corefleck::testing;

namespace {

SpotMap map_of(const DrawnFace& drawn, double min_spot_mm = 0.8) {
  SegmentationSettings settings;
  settings.min_spot = Millimetres{min_spot_mm};
  auto map = find_spots(calibrated_face(drawn), settings);
  REQUIRE(map.has_value());
  return *std::move(map);
}

bool warns(const SpotMap& map, CautionKind kind) {
  return std::any_of(
      map.cautions.begin(), map.cautions.end(), [&](const Caution& c) { return c.kind == kind; });
}

DrawnFace good_face() {
  DrawnFace drawn;
  drawn.spots = {{200.0, 300.0, 8.0, 0.5}, {400.0, 300.0, 14.0, 0.5}};
  return drawn;
}

}  // namespace

TEST_CASE("caution: a sharp face with large spots raises none", "[segmentation]") {
  CHECK(map_of(good_face()).cautions.empty());
}

TEST_CASE("caution: edges as wide as the smallest spot are out of focus", "[segmentation]") {
  DrawnFace drawn = good_face();
  drawn.blur_px = 5.5;
  CHECK(warns(map_of(drawn), CautionKind::out_of_focus));
}

TEST_CASE("caution: a smallest spot below six pixels is barely resolved", "[segmentation]") {
  DrawnFace drawn = good_face();
  drawn.blur_px = 0.6;
  drawn.spots.push_back({300.0, 400.0, 2.7, 0.6});  // by hand: 5.4 px across
  CHECK(warns(map_of(drawn, 0.4), CautionKind::spots_barely_resolved));
}

TEST_CASE("caution: glare over more than a twentieth of the face", "[segmentation]") {
  DrawnFace drawn = good_face();
  drawn.spots.push_back({300.0, 440.0, 60.0, 0.5});  // by hand: 4.1 % of the face
  // By hand: (80 / 297)^2 is 7.3 % of the face; 45 px across the radius would be 2.3 %.
  drawn.spots.push_back({300.0, 180.0, 80.0, 3.0});
  CHECK(warns(map_of(drawn), CautionKind::much_glare));
  drawn.spots.back().radius_px = 45.0;
  CHECK_FALSE(warns(map_of(drawn), CautionKind::much_glare));
}

TEST_CASE("caution: glare over more of the face than the spots cover", "[segmentation]") {
  DrawnFace drawn = good_face();
  drawn.spots.push_back({300.0, 180.0, 30.0, 3.0});  // by hand: 1 % of the face; the spots are 0.3 %
  CHECK(warns(map_of(drawn), CautionKind::much_glare));
  drawn.spots.push_back({300.0, 440.0, 36.0, 0.5});  // 1.5 % more
  CHECK_FALSE(warns(map_of(drawn), CautionKind::much_glare));
}

// A comb of teeth of a pixel or two is no spot that tells; this one is 60 px long, its five teeth 12 apart.
TEST_CASE("caution: on a wet face ragged regions that hold much of the spots' area, not on a dry one",
          "[segmentation]") {
  DrawnFace drawn = good_face();
  drawn.necks = {{300.0, 200.0, 30.0, 4.0, 0.5}};
  for (const double column : {276.0, 288.0, 300.0, 312.0, 324.0})
    drawn.necks.push_back({column, 200.0, 3.0, 16.0, 0.5});
  const auto warns_as = [&](FaceState state) {
    SegmentationSettings settings;
    settings.state = state;
    const auto map = find_spots(calibrated_face(drawn), settings);
    REQUIRE(map.has_value());
    CHECK((map->doubtful_area_px() > 1000.0) == (state == FaceState::wet));
    return warns(*map, CautionKind::reflections_possible);
  };
  CHECK(warns_as(FaceState::wet));
  CHECK_FALSE(warns_as(FaceState::dry));
  drawn.spots.push_back({300.0, 420.0, 70.0, 0.5});
  CHECK_FALSE(warns_as(FaceState::wet));
}

TEST_CASE("caution: light regions in a row along the rim that hold much of the spots' area",
          "[segmentation]") {
  DrawnFace drawn = good_face();
  const double middle = 0.5 * (drawn.size_px - 1), inner_px = middle - 3.0 - 10.0;  // the rim band is 1 mm
  for (const double degrees : {20.0, 26.0, 32.0, 38.0}) {
    const double turn = degrees * 3.14159265 / 180.0;
    drawn.spots.push_back(
        {middle + inner_px * std::cos(turn), middle - inner_px * std::sin(turn), 12.0, 0.5});
  }
  CHECK(warns(map_of(drawn), CautionKind::rim_incomplete));
  drawn.spots.push_back({300.0, 420.0, 40.0, 0.5});
  CHECK_FALSE(warns(map_of(drawn), CautionKind::rim_incomplete));
}

TEST_CASE("caution: much of the face left out as a chip of the rim", "[segmentation]") {
  DrawnFace drawn = good_face();
  const double middle = 0.5 * (drawn.size_px - 1), inner_px = middle - 3.0 - 10.0;  // the rim band is 1 mm
  const auto warns_of_rim = [&](double radius_px, double contrast) {
    DrawnFace chipped = drawn;
    chipped.spots.push_back({middle + inner_px, middle, radius_px, contrast});
    return warns(map_of(chipped), CautionKind::rim_incomplete);
  };
  CHECK(warns_of_rim(40.0, 0.9));
  CHECK_FALSE(warns_of_rim(40.0, 0.5));  // a spot as light as the others
  CHECK_FALSE(warns_of_rim(12.0, 0.9));  // a chip as the drill leaves it
}

TEST_CASE("caution: matter-of-fact light areas that clip are overexposure, not glare", "[segmentation]") {
  DrawnFace drawn = good_face();
  drawn.spots.push_back({300.0, 180.0, 30.0, 0.5});
  CalibratedFace face = calibrated_face(drawn);
  // The photo was so light that half of full reflectance already clipped.
  face.clipped = face.luminance >= 0.48F;
  SegmentationSettings settings;
  const auto map = find_spots(face, settings);
  REQUIRE(map.has_value());
  CHECK(std::any_of(map->cautions.begin(), map->cautions.end(), [](const Caution& c) {
    return c.kind == CautionKind::face_clipped;
  }));
  CHECK(map->glare.empty());
  CHECK(map->spots.size() == 3);
}

// By hand: 60 grains of contrast 0.09 to 0.15 make a population of median about 0.12 and 90 % about 0.145,
// whose highest are expected up to 0.12 + 0.5 ln(60 / 0.05) 0.025 = 0.21. Discs of 0.19 lie between eight
// tenths of that and it; discs of 0.5 lie clear of it.
TEST_CASE("caution: light regions that mottle nearly reaches, and none for clear ones", "[segmentation]") {
  DrawnFace grains;
  grains.noise = 0.002;
  for (int k = 0; k < 60; ++k)
    grains.spots.push_back(
        {120.0 + 40.0 * (k % 10), 190.0 + 40.0 * (k / 10), 5.0, (1.09 + 0.001 * k) * kMatrix_Y});
  DrawnFace faint = grains, clear = grains;
  for (int k = 0; k < 6; ++k) {
    faint.spots.push_back({200.0 + 40.0 * k, 470.0, 6.0, 1.19 * kMatrix_Y});
    clear.spots.push_back({200.0 + 40.0 * k, 470.0, 6.0, 1.5 * kMatrix_Y});
  }
  CHECK(warns(map_of(faint), CautionKind::faint_regions));
  CHECK(map_of(faint).faint_area_px > 0.0);
  CHECK_FALSE(warns(map_of(clear), CautionKind::faint_regions));
  CHECK(map_of(clear).spots.size() == 6);
}
