#include "calibration/calibrated.hpp"
#include "drawn_photo.hpp"

#include "corefleck/calibration.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <vector>

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

double tilt_u_deg(const DrawnScene& scene, const CalibrationSettings& settings) {
  const auto face = calibrate(with_focal_length(scene), settings);
  REQUIRE(face.has_value());
  return face->pose.tilt_u_deg;
}

/// Bits of bench along all four sides of the usual card, as wide as their signs say: the sides that are left
/// go in and out by `depth_mm`.
std::vector<DrawnShape> frayed_sides(const std::vector<int>& signs,
                                     double depth_mm,
                                     const Reflectance& bench) {
  constexpr double kHalfWidth_mm = 15.0, kHalfHeight_mm = 20.0, kOver_mm = 2.0;  // the usual card at 75, 5
  std::vector<DrawnShape> bits;
  const auto n = static_cast<double>(signs.size());
  for (std::size_t k = 0; k < signs.size(); ++k) {
    const double share = (static_cast<double>(k) + 0.5) / n - 0.5, wide_mm = kOver_mm + signs[k] * depth_mm;
    for (const double side : {-1.0, 1.0}) {
      bits.push_back(rectangle(75.0 + side * kHalfWidth_mm,
                               5.0 + 2.0 * kHalfHeight_mm * share,
                               wide_mm,
                               2.0 * kHalfHeight_mm / n,
                               bench));
      bits.push_back(rectangle(75.0 + 2.0 * kHalfWidth_mm * share,
                               5.0 + side * kHalfHeight_mm,
                               2.0 * kHalfWidth_mm / n,
                               wide_mm,
                               bench));
    }
  }
  return bits;
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

// On both sides the rim lies on what has the face's own tone. By hand, of the stated deviations: a whole rim
// that shows no finer harmonic has a second one that may be off by 0.0008 of the radius, with the six finer
// ones 0.0008 sqrt(2 / 8) = 0.0004, and by 0.0003 for its cut: 0.0005; a rim of which 0.3 is not seen by
// 0.015 x 0.3^2 = 0.0014 more, 2.9 times as much. The tilt's deviation is about in proportion, since nothing
// else tells it here but the knowledge of bend and tilt in general; mean of three, since the tilt found moves
// it too.
TEST_CASE("pose: a rim that is not seen all around says less about the tilt", "[calibration]") {
  CalibrationSettings settings;
  settings.no_card = true;
  const auto face_beside = [&](double height_mm) {
    std::vector<DrawnShape> beside;
    for (const double side : {-1.0, 1.0})
      if (height_mm > 0.0) beside.push_back(rectangle(side * 50.0, 0.0, 60.0, height_mm, grey(kMatrix_Y)));
    DrawnScene scene = scene_of({beside, {drawn_face()}, drawn_bar({})});
    scene.tilt_deg = 6.0;
    scene.noise = 0.0;  // in which edges would be found where the rim is not seen
    const auto face = calibrate(with_focal_length(scene), settings);
    REQUIRE(face.has_value());
    return *face;
  };
  const CalibratedFace whole = face_beside(0.0);
  double sum = 0.0;
  for (const double height_mm : {28.0, 32.0, 36.0}) {
    const CalibratedFace part = face_beside(height_mm);
    CHECK_THAT(part.ellipse.rim_found_pct, WithinAbs(70.0, 5.0));
    sum += part.pose.tilt_u_deg / whole.pose.tilt_u_deg;
  }
  CHECK_THAT(sum / 3.0, WithinAbs(2.9, 0.5));
}

// As many places of a side are in and as many out, by as much: a line through them strays less where that
// changes from place to place than where long stretches of them go astray together.
TEST_CASE("pose: a card's side whose points go astray together says less about the tilt", "[calibration]") {
  DrawnScene scene = usual_scene();
  const std::vector<int> by_turns{1, -1, 1, -1, 1, -1, 1, -1, 1, -1, 1, -1,
                                  1, -1, 1, -1, 1, -1, 1, -1, 1, -1, 1, -1};
  const std::vector<int> together{1,  1,  1,  1,  1,  1,  -1, -1, -1, -1, -1, -1,
                                  -1, -1, -1, -1, -1, -1, 1,  1,  1,  1,  1,  1};
  const auto frayed = [&](const std::vector<int>& signs) {
    DrawnScene with = scene;
    for (const DrawnShape& bit : frayed_sides(signs, 0.1, scene.bench)) with.shapes.push_back(bit);
    return tilt_u_deg(with, {});
  };
  CHECK(frayed(together) > 1.2 * frayed(by_turns));
}

// Stones of a bench have steeper edges than the card has against any of them, and may pass for its sides.
TEST_CASE("pose: a card on stones of about its own tone does not mislead it", "[calibration]") {
  const double stone_mm = GENERATE(1.0, 1.6);
  unsigned dice = 1;
  const auto thrown = [&](unsigned sides) {  // the generator of Numerical Recipes
    dice = dice * 1664525U + 1013904223U;
    return dice / 65536U % sides;
  };
  const auto bed = [&] {
    std::vector<DrawnShape> stones;
    for (int i = 0; i * stone_mm < 52.0; ++i)
      for (int j = 0; j * stone_mm < 64.0; ++j)
        stones.push_back(rectangle(50.0 + i * stone_mm + 0.1 * thrown(10),
                                   -27.0 + j * stone_mm + 0.1 * thrown(10),
                                   1.3 * stone_mm,
                                   1.3 * stone_mm,
                                   grey(0.11 + 0.01 * thrown(14)),
                                   thrown(90)));
    return stones;
  };
  double squares = 0.0;
  constexpr int kPhotos = 8;
  for (int photo = 0; photo < kPhotos; ++photo) {
    DrawnScene scene = scene_of({bed(), {drawn_face()}, drawn_bar({}), {drawn_card()}});
    scene.tilt_deg = 3.0;
    scene.tilt_toward_deg = 30.0 + 45.0 * photo;
    const auto face = calibrate(with_focal_length(scene), {});
    REQUIRE(face.has_value());
    squares += std::pow(face->pose.scale.number() / scene.mm_per_px - 1.0, 2.0);
  }
  CHECK(std::sqrt(squares / kPhotos) < 0.001);
}
