#include "calibration/calibrated.hpp"
#include "drawn_photo.hpp"

#include "corefleck/calibration.hpp"
#include "corefleck/colorimetry.hpp"

#include <catch2/catch.hpp>
#include <opencv2/core.hpp>

#include <array>
#include <cmath>

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace corefleck;
using namespace corefleck::testing;

namespace {

double matrix_level(const CalibratedFace& face) { return cv::mean(face.luminance, face.outside == 0)[0]; }

cv::Point2d middle(const GreyCard& card) {
  return 0.25 * (card.corners[0] + card.corners[1] + card.corners[2] + card.corners[3]);
}

/// The card that was read lies where the usual one is drawn.
void check_place(const CalibratedFace& face, const DrawnScene& scene, double within_px) {
  REQUIRE(face.card.has_value());
  const cv::Point2d expected = place_px(scene, 75.0, 5.0);
  CHECK_THAT(middle(*face.card).x, WithinAbs(expected.x, within_px));
  CHECK_THAT(middle(*face.card).y, WithinAbs(expected.y, within_px));
}

}  // namespace

TEST_CASE("grey card: it sets the face's luminance, whatever the exposure", "[calibration]") {
  const double exposure = GENERATE(0.35, 0.9);
  DrawnScene scene = usual_scene();
  scene.exposure = exposure;
  const CalibratedFace face = calibrated(scene);
  INFO("exposure " << exposure);
  CHECK_THAT(matrix_level(face), WithinRel(kMatrix_Y, 0.01));
  REQUIRE(face.card.has_value());
  // By hand: card 0.18 times the exposure.
  CHECK_THAT(face.card->level[1], WithinRel(0.18 * exposure, 0.01));
}

TEST_CASE("grey card: a card of another reflectance is taken when the user states it", "[calibration]") {
  const double reflectance = GENERATE(0.12, 0.36);
  DrawnScene scene = scene_of({{drawn_face()}, drawn_bar({}), {drawn_card(reflectance)}});
  scene.bench = grey(0.05);  // unlike either card
  CalibrationSettings settings;
  settings.card_reflectance = reflectance;
  CHECK_THAT(matrix_level(calibrated(scene, settings)), WithinRel(kMatrix_Y, 0.01));
}

TEST_CASE("grey card: a white and a black patch beside it are not taken", "[calibration]") {
  const DrawnScene scene =
      scene_of({{drawn_face()},
                drawn_bar({}),
                {drawn_card(), drawn_card(0.85, 75.0, 46.0), drawn_card(0.03, 75.0, -36.0)}});
  const CalibratedFace face = calibrated(scene);
  check_place(face, scene, 10.0);
  CHECK_THAT(matrix_level(face), WithinRel(kMatrix_Y, 0.01));
}

TEST_CASE("grey card: a colour cast is neutralised over the face", "[calibration]") {
  DrawnScene scene = usual_scene();
  scene.light = {1.15, 1.0, 0.70};
  scene.exposure = 0.8;
  const CalibratedFace face = calibrated(scene);
  REQUIRE(face.card.has_value());
  CHECK_THAT(face.card->level[0] / face.card->level[1], WithinRel(1.15, 0.02));
  CHECK_THAT(face.card->level[2] / face.card->level[1], WithinRel(0.70, 0.02));
  cv::Mat inside = face.outside == 0, half(face.colour.size(), CV_8UC1);
  for (int y = 0; y < half.rows; ++y)
    for (int x = 0; x < half.cols; ++x)
      half.at<unsigned char>(y, x) =
          inside.at<unsigned char>(std::min(2 * y, inside.rows - 1), std::min(2 * x, inside.cols - 1));
  const cv::Scalar colour = cv::mean(face.colour, half);
  const Lab lab = lab_of_linear_srgb({colour[0], colour[1], colour[2]});
  CHECK_THAT(lab.a, WithinAbs(0.0, 0.5));
  CHECK_THAT(lab.b, WithinAbs(0.0, 0.5));
  CHECK_THAT(colour[1], WithinRel(kMatrix_Y, 0.02));
}

TEST_CASE("grey card: --card-at replaces the finder and agrees with it", "[calibration]") {
  const DrawnScene scene = usual_scene();
  const CalibratedFace found = calibrated(scene);
  const cv::Point2d corner = place_px(scene, 63.0, 20.0), opposite = place_px(scene, 87.0, -10.0);
  CalibrationSettings settings;
  settings.card_at = PixelBox{corner.x, corner.y, opposite.x - corner.x, opposite.y - corner.y};
  const CalibratedFace given = calibrated(scene, settings);
  REQUIRE(given.card.has_value());
  CHECK(given.card->by_hand);
  CHECK_THAT(given.card->level[1], WithinRel(found.card->level[1], 0.005));
  CHECK_THAT(matrix_level(given), WithinRel(matrix_level(found), 0.005));
}

TEST_CASE("grey card: --no-card measures on without absolute luminance", "[calibration]") {
  const DrawnScene scene = scene_of({{drawn_face()}, drawn_bar({})});
  CalibrationSettings settings;
  settings.no_card = true;
  const CalibratedFace face = calibrated(scene, settings);
  CHECK_FALSE(face.absolute_luminance);
  CHECK_FALSE(face.card.has_value());
  CHECK_THAT(face.pose.scale.number(), WithinRel(scene.mm_per_px, 0.002));
}

// Grey, white and black on one strip of one width, in a dark holder: what is read must lie on the grey.
TEST_CASE("grey card: patches on the same strip and a holder are no part of it", "[calibration]") {
  const DrawnScene scene = scene_of({{drawn_face()},
                                     drawn_bar({}),
                                     {rectangle(75.0, 5.0, 38.0, 78.0, grey(0.05)),
                                      drawn_card(),
                                      rectangle(75.0, 32.0, 30.0, 14.0, grey(0.85)),
                                      rectangle(75.0, -22.0, 30.0, 14.0, grey(0.04))}});
  const CalibratedFace face = calibrated(scene);
  REQUIRE(face.card.has_value());
  const cv::Matx33d to_mm = mm_to_px(scene).inv();
  for (const cv::Point2d& corner : face.card->corners) {
    const cv::Vec3d p = to_mm * cv::Vec3d(corner.x, corner.y, 1.0);
    CHECK_THAT(p[0] / p[2], WithinAbs(75.0, 15.0));
    CHECK_THAT(p[1] / p[2], WithinAbs(5.0, 20.0));
  }
  CHECK_THAT(matrix_level(face), WithinRel(kMatrix_Y, 0.02));
}

TEST_CASE("grey card: one of the bench's own tone is found by an outline with gaps", "[calibration]") {
  // A shadow line as faint as a hundredth of the light, which noise breaks every few millimetres.
  DrawnScene scene = scene_of({{drawn_face()}, drawn_bar({}), {}});
  scene.bench = grey(0.18);
  scene.noise = 0.0;
  const double gap_mm = 2.4, piece_mm = 8.0, line_mm = 1.2;
  for (const double side : {-1.0, 1.0}) {
    for (double at = -15.0; at < 15.0; at += piece_mm + gap_mm)
      scene.shapes.push_back(
          rectangle(75.0 + at + 0.5 * piece_mm, 5.0 + side * 20.0, piece_mm, line_mm, grey(0.165)));
    for (double at = -20.0; at < 20.0; at += piece_mm + gap_mm)
      scene.shapes.push_back(
          rectangle(75.0 + side * 15.0, 5.0 + at + 0.5 * piece_mm, line_mm, piece_mm, grey(0.165)));
  }
  const CalibratedFace face = calibrated(scene);
  check_place(face, scene, 20.0);
}

// By hand: the disc's box is 25.0 by 20.0 mm in the frame, of which it fills 0.843.
TEST_CASE("grey card: a coin that the frame cuts is no card, however well its tone fits", "[calibration]") {
  DrawnScene scene =
      scene_of({{drawn_face()}, drawn_bar({}), {drawn_card(0.25), disc(60.0, 53.6, 12.5, grey(0.18))}});
  const CalibratedFace face = calibrated(scene);
  check_place(face, scene, 10.0);
}

TEST_CASE("grey card: one with its patches is found though the bar lies in shadow", "[calibration]") {
  std::vector<DrawnShape> bar = drawn_bar({});
  for (DrawnShape& shape : bar)
    for (double& channel : shape.colour) channel *= 0.45;
  const DrawnScene scene = scene_of({{drawn_face()},
                                     bar,
                                     {drawn_card(),
                                      rectangle(75.0, 32.0, 30.0, 14.0, grey(0.85)),
                                      rectangle(75.0, 46.0, 30.0, 14.0, grey(0.03))}});
  const CalibratedFace face = calibrated(scene);
  REQUIRE(face.card.has_value());
  const cv::Point2d expected = place_px(scene, 75.0, 5.0);
  CHECK_THAT(middle(*face.card).y, WithinAbs(expected.y, 10.0));
  CHECK_THAT(matrix_level(face), WithinRel(kMatrix_Y, 0.02));
}

// Grain as a camera leaves of noise that it has smoothed: some pixels wide, on card and bench alike.
TEST_CASE("grey card: one hardly darker than the bench is found under the grain of poor light",
          "[calibration]") {
  const double width_mm = GENERATE(16.0, 30.0);
  DrawnScene scene =
      scene_of({{drawn_face()}, drawn_bar({}), {rectangle(75.0, 5.0, width_mm, 1.3 * width_mm, grey(0.18))}});
  scene.bench = {0.23, 0.21, 0.16};
  scene.mottle = 0.15;
  const CalibratedFace face = calibrated(scene);
  check_place(face, scene, 20.0);
  CHECK_THAT(matrix_level(face), WithinRel(kMatrix_Y, 0.03));
}

// By hand: the bench has the card's luminance to within 0.1 %, and 2 % more red and 4 % less blue over green.
TEST_CASE("grey card: one that only a faint hue parts from the bench is found, without its sides",
          "[calibration]") {
  DrawnScene scene = usual_scene();
  scene.bench = {0.1836, 0.18, 0.1728};
  scene.noise = GENERATE(0.001, 0.002);
  const CalibratedFace face = calibrated(scene);
  check_place(face, scene, 20.0);
  CHECK_THAT(matrix_level(face), WithinRel(kMatrix_Y, 0.02));
  // With no side to tell the tilt the pose is that without a card.
  CalibrationSettings without;
  without.no_card = true;
  CHECK_THAT(face.pose.scale.number(), WithinRel(calibrated(scene, without).pose.scale.number(), 1e-6));
}

// Stones of the bench have the card's own tone in part, and lettering covers a corner of it.
TEST_CASE("grey card: bites that lettering and stones take out of its outline do not hide it",
          "[calibration]") {
  std::vector<DrawnShape> stones;
  unsigned dice = GENERATE(1U, 2U, 3U);
  const auto thrown = [&](unsigned sides) {  // the generator of Numerical Recipes
    dice = dice * 1664525U + 1013904223U;
    return dice / 65536U % sides;
  };
  const std::array<double, 5> tones{0.04, 0.18, 0.45, 0.30, 0.55};
  for (int i = -24; i <= 36; ++i)
    for (int j = -28; j <= 22; ++j)
      stones.push_back(rectangle(3.0 * i + 0.1 * thrown(10),
                                 3.0 * j + 0.1 * thrown(10),
                                 3.4,
                                 3.4,
                                 grey(tones[thrown(5)]),
                                 thrown(90)));
  const DrawnScene scene = scene_of(
      {stones, {drawn_face()}, drawn_bar({}), {drawn_card(), rectangle(67.8, 22.0, 15.6, 6.0, grey(0.03))}});
  const CalibratedFace face = calibrated(scene);
  check_place(face, scene, 20.0);
  CHECK_THAT(matrix_level(face), WithinRel(kMatrix_Y, 0.02));
}

// By hand: a quarter cut off leaves 0.75 of the box, 0.875 of it in the hull.
TEST_CASE("grey card: an L of its tone is no card", "[calibration]") {
  DrawnScene scene = usual_scene();
  scene.shapes.push_back(rectangle(67.5, 15.0, 15.0, 20.0, scene.bench));
  const auto face = calibrate(drawn_photo(scene), {});
  REQUIRE_FALSE(face.has_value());
  CHECK(face.error().code == ErrorCode::grey_card_not_found);
}
