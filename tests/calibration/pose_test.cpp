#include "calibration/calibrated.hpp"
#include "drawn_photo.hpp"

#include "corefleck/calibration.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace corefleck;
using namespace corefleck::testing;

namespace {

Photo with_focal_length(const DrawnScene& scene) {
  Photo photo = drawn_photo(scene);
  // By definition of Exif tag 0xA405: the diagonal of 36 x 24 mm film is 43.27 mm.
  photo.camera.focal_length_35mm_mm = scene.focal_px * 43.27 / std::hypot(scene.width_px, scene.height_px);
  return photo;
}

}  // namespace

TEST_CASE("pose: a card's side that is cut off at a slant does not tilt the face", "[calibration]") {
  // Tilted by a degree the rim is round to within its own tolerance: the card's sides have to tell the tilt.
  DrawnScene scene = usual_scene();
  scene.tilt_deg = 1.0;
  scene.tilt_toward_deg = GENERATE(20.0, 110.0, 200.0, 290.0);
  const double slant_deg = GENERATE(-1.2, 1.2);
  INFO(scene.tilt_toward_deg << ", cut at " << slant_deg << " degrees");
  scene.shapes.push_back(rectangle(75.0, 36.0, 60.0, 26.0, scene.bench, slant_deg));
  const auto face = calibrate(with_focal_length(scene), {});
  REQUIRE(face.has_value());
  CHECK_THAT(face->pose.scale.number(), WithinRel(scene.mm_per_px, 0.002));
}

TEST_CASE("pose: a card in strong perspective is followed along its own sides", "[calibration]") {
  // Its sides converge by more than the width in which an edge is looked for about the box around it.
  DrawnScene scene =
      scene_of({{drawn_face(0.0, 0.0, 30.0)}, drawn_bar({}), {rectangle(85.0, 0.0, 70.0, 80.0, grey(0.18))}});
  scene.width_px = 1800;
  scene.focal_px = 1100.0;  // 143 mm away
  scene.tilt_deg = 7.0;
  scene.tilt_toward_deg = GENERATE(60.0, 150.0, 240.0, 330.0);
  INFO(scene.tilt_toward_deg);
  Photo photo = drawn_photo(scene);
  photo.camera.focal_length_35mm_mm.reset();
  const auto face = calibrate(photo, {});
  REQUIRE(face.has_value());
  CHECK_THAT(face->pose.scale.number(), WithinRel(scene.mm_per_px, 0.001));
  CHECK_THAT(face->pose.tilt_deg, WithinAbs(scene.tilt_deg, 0.3));
}

TEST_CASE("pose: a card on wood of its own lightness is followed by its colour", "[calibration]") {
  // Grain lighter and darker than the card, of one hue, and along two of its sides.
  const Reflectance light{0.30, 0.165, 0.09}, dark{0.23, 0.127, 0.07};
  std::vector<DrawnShape> grain;
  for (int k = 14; k <= 27; ++k) grain.push_back(rectangle(3.7 * k, 5.0, 1.6, 60.0, dark, 3.0));
  DrawnScene scene = scene_of({grain, {drawn_face()}, drawn_bar({}), {drawn_card()}});
  scene.bench = light;
  scene.tilt_deg = 2.0;
  scene.tilt_toward_deg = GENERATE(120.0, 300.0);
  INFO(scene.tilt_toward_deg);
  const auto face = calibrate(with_focal_length(scene), {});
  REQUIRE(face.has_value());
  CHECK_THAT(face->pose.scale.number(), WithinRel(scene.mm_per_px, 0.002));
}
