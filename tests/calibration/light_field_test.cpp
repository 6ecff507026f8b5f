#include "calibration/calibrated.hpp"
#include "drawn_photo.hpp"

#include "corefleck/calibration.hpp"

#include <catch2/catch.hpp>
#include <opencv2/core.hpp>

#include <algorithm>
#include <array>
#include <memory>
#include <utility>

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace corefleck;
using namespace corefleck::testing;

namespace {

double patch(const CalibratedFace& face, double x_over_r, double y_over_r) {
  const double r = face.radius / Millimetres{face.grid.pitch.number()};
  const int x = static_cast<int>(face.grid.centre_px + x_over_r * r),
            y = static_cast<int>(face.grid.centre_px - y_over_r * r);
  return cv::mean(face.luminance(cv::Rect(x - 10, y - 10, 21, 21)))[0];
}

/// Largest over smallest of five patches of the evened face, less one, in %.
double uneven_pct(const CalibratedFace& face) {
  std::array<double, 5> levels{patch(face, 0, 0),
                               patch(face, 0.85, 0),
                               patch(face, -0.85, 0),
                               patch(face, 0, 0.85),
                               patch(face, 0, -0.85)};
  const auto [least, most] = std::minmax_element(levels.begin(), levels.end());
  return 100.0 * (*most / *least - 1.0);
}

// By hand: 33.3 % per 100 mm is 30 % over 90 mm.
DrawnScene sloping_scene() {
  DrawnScene scene = usual_scene();
  scene.light_slope_pct = 33.3;
  scene.light_toward_deg = 120.0;
  return scene;
}

DrawnScene bare_sheet(const DrawnScene& scene) {
  DrawnScene sheet = scene;
  sheet.shapes.clear();
  sheet.bench = grey(0.7);
  sheet.seed = 7;
  return sheet;
}

}  // namespace

TEST_CASE("light field: even light is found to be even", "[calibration]") {
  const CalibratedFace face = calibrated(usual_scene());
  CHECK(face.light.source == LightSource::matrix);
  CHECK(face.light.change_pct < 1.5);
}

TEST_CASE("light field: a slope of 30 % over the face is found in the matrix and evened out",
          "[calibration]") {
  const CalibratedFace face = calibrated(sloping_scene());
  CHECK_THAT(face.light.change_pct, WithinAbs(30.0 * 0.95, 2.0));  // looked at to 0.95 of the radius
  CHECK(uneven_pct(face) < 1.5);
}

TEST_CASE("light field: light spots do not pull it up", "[calibration]") {
  DrawnScene scene = sloping_scene();
  for (int k = 0; k < 7; ++k) scene.shapes.push_back(disc(20.0 + 2.2 * k, 15.0 - 5.0 * k, 2.4, grey(0.5)));
  CHECK(uneven_pct(calibrated(scene)) < 2.5);
}

// The light is even, so that what two stains by the rim leave of the matrix there is as light as the rest.
TEST_CASE("light field: stains along the rim do not bend it", "[calibration]") {
  DrawnScene scene = usual_scene();
  const Reflectance stain = grey(0.85 * kMatrix_Y);
  scene.mottle = 0.06;
  for (const auto& [x, y] :
       {std::pair{-20.0, 33.0}, std::pair{-13.0, 36.0}, std::pair{-36.0, 2.0}, std::pair{-37.0, -5.0}})
    scene.shapes.push_back(disc(x, y, 7.0, stain));
  const CalibratedFace face = calibrated(scene);
  CHECK(face.light.change_pct < 3.0);
  // Mottle moves a patch by some 3 %.
  CHECK_THAT(patch(face, -0.75, 0.5) / patch(face, 0.0, 0.0), WithinRel(1.0, 0.06));
}

// The light is even. A field that follows levels takes the band for the foot of a slope, and the rest beyond
// it for spots.
TEST_CASE("light field: a broad dark band between the middle and the rim does not tilt it", "[calibration]") {
  DrawnScene scene = usual_scene();
  scene.mottle = 0.03;
  scene.shapes.push_back(rectangle(22.0, 0.0, 20.0, 89.0, grey(0.85 * kMatrix_Y)));
  const CalibratedFace face = calibrated(scene);
  CHECK(face.light.change_pct < 4.0);
  CHECK_THAT(patch(face, 0.85, 0.0) / patch(face, -0.5, 0.0), WithinRel(1.0, 0.04));
}

TEST_CASE("light field: a flat frame removes a slope of 30 %", "[calibration]") {
  const DrawnScene scene = sloping_scene();
  CalibrationSettings settings;
  settings.flat_frame = std::make_shared<const Photo>(drawn_photo(bare_sheet(scene)));
  const CalibratedFace face = calibrated(scene, settings);
  CHECK(face.light.source == LightSource::flat_frame);
  CHECK_THAT(face.light.change_pct, WithinAbs(30.0 * 0.95, 2.0));
  CHECK(uneven_pct(face) < 1.5);
}

// What the matrix alone cannot tell: a face whose one half really is lighter keeps that under a flat frame.
TEST_CASE("light field: a flat frame leaves a real change of the plaster in place", "[calibration]") {
  DrawnScene scene = usual_scene();
  scene.shapes.push_back(rectangle(22.0, 0.0, 40.0, 40.0, grey(1.2 * kMatrix_Y)));
  CalibrationSettings settings;
  settings.flat_frame = std::make_shared<const Photo>(drawn_photo(bare_sheet(usual_scene())));
  const CalibratedFace face = calibrated(scene, settings);
  CHECK_THAT(patch(face, 0.5, 0.0) / patch(face, -0.5, 0.0), WithinRel(1.2, 0.01));
}

// By hand: the light grows from the face to the right; the card lies 75 mm from the centre along it, so that
// it is lit by 1 + 0.20 x 0.75 of the face's light. The slope on face and card tells so.
TEST_CASE("light field: the face's level is the card's under the face's own light", "[calibration]") {
  DrawnScene scene = usual_scene();
  scene.light_slope_pct = 20.0;
  const CalibratedFace face = calibrated(scene);
  CHECK_THAT(face.card_light.face_over_card, WithinRel(1.0 / 1.15, 0.015));
  CHECK(std::abs(face.card_light.face_over_card - 1.0 / 1.15) < 2.0 * face.card_light.u_rel);
  CHECK_THAT(cv::mean(face.luminance, face.outside == 0)[0], WithinRel(kMatrix_Y, 0.015));
}

TEST_CASE("light field: under even light card and face are lit alike", "[calibration]") {
  CHECK_THAT(calibrated(usual_scene()).card_light.face_over_card, WithinRel(1.0, 0.01));
}

TEST_CASE("light field: a flat frame tells the light on the card against that on the face", "[calibration]") {
  DrawnScene scene = usual_scene();
  scene.light_slope_pct = 20.0;
  CalibrationSettings settings;
  settings.flat_frame = std::make_shared<const Photo>(drawn_photo(bare_sheet(scene)));
  const CalibratedFace face = calibrated(scene, settings);
  CHECK_THAT(face.card_light.face_over_card, WithinRel(1.0 / 1.15, 0.005));
  CHECK_THAT(cv::mean(face.luminance, face.outside == 0)[0], WithinRel(kMatrix_Y, 0.01));
}

TEST_CASE("light field: a flat frame of another size is refused with both sizes", "[calibration]") {
  DrawnScene sheet = bare_sheet(usual_scene());
  sheet.width_px = 700;
  CalibrationSettings settings;
  settings.flat_frame = std::make_shared<const Photo>(drawn_photo(sheet));
  const auto face = calibrate(drawn_photo(usual_scene()), settings);
  REQUIRE_FALSE(face.has_value());
  CHECK(face.error().code == ErrorCode::bad_setting);
  CHECK(face.error().what.find("700 x 1100") != std::string::npos);
  CHECK(face.error().what.find("1400 x 1100") != std::string::npos);
}
