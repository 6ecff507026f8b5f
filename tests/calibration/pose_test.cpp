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
