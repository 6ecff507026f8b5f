#include "calibration/calibrated.hpp"
#include "drawn_photo.hpp"

#include "corefleck/calibration.hpp"

#include <catch2/catch.hpp>

#include <array>
#include <cmath>
#include <numbers>
#include <vector>

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace corefleck;
using namespace corefleck::testing;

namespace {

/// The bench, seen where a piece of the rim is gone.
std::vector<DrawnShape> broken_arc(double from_deg, double to_deg, double depth_mm) {
  std::vector<DrawnShape> gone;
  const double middle_mm = kFaceRadius_mm - depth_mm + 1.5;
  for (double deg = from_deg; deg < to_deg; deg += 1.0) {
    const double angle = deg * std::numbers::pi / 180.0;
    gone.push_back(rectangle(
        middle_mm * std::cos(angle), middle_mm * std::sin(angle), 3.0, 1.2, DrawnScene{}.bench, deg));
  }
  return gone;
}

// The shadow has the face's luminance within 2 %, so lightness shows only where the shadow ends, 1 mm beyond.
DrawnScene shadow_as_light_as_the_face(const Reflectance& plaster, const Reflectance& bench) {
  const double shade = 0.5;
  DrawnShape face_disc = drawn_face();
  face_disc.colour = plaster;
  DrawnScene scene =
      scene_of({{disc(0.0, 0.0, kFaceRadius_mm + 1.0, {shade * bench[0], shade * bench[1], shade * bench[2]}),
                 face_disc},
                drawn_bar({}),
                {drawn_card()}});
  scene.bench = bench;
  return scene;
}

}  // namespace

// Truth by hand: radius_px = 45 mm / 0.13 mm per px, centre where the scene puts it.
TEST_CASE("face: the rim of a drawn face is met to 0.3 px on a dark, a middling and a light bench",
          "[calibration]") {
  const double bench = GENERATE(0.04, 0.32, 0.60);
  DrawnScene scene = usual_scene();
  scene.bench = grey(bench);
  const CalibratedFace face = calibrated(scene);
  INFO("bench " << bench);
  CHECK_THAT(face.ellipse.x, WithinAbs(scene.face_x_px, 0.3));
  CHECK_THAT(face.ellipse.y, WithinAbs(scene.face_y_px, 0.3));
  CHECK_THAT(face.ellipse.semi_major, WithinAbs(kFaceRadius_mm / scene.mm_per_px, 0.3));
  CHECK_THAT(face.ellipse.semi_minor, WithinAbs(kFaceRadius_mm / scene.mm_per_px, 0.3));
  CHECK(face.ellipse.rim_found_pct > 90.0);
  CHECK_FALSE(face.ellipse.by_hand);
}

TEST_CASE("face: scale and diameter of a face seen straight from above", "[calibration]") {
  const DrawnScene scene = usual_scene();
  const CalibratedFace face = calibrated(scene);
  CHECK_THAT(face.pose.scale.number(), WithinRel(scene.mm_per_px, 0.002));
  CHECK_THAT(face.radius.number(), WithinRel(kFaceRadius_mm, 0.002));
  CHECK(face.pose.tilt_deg < 1.0);
  CHECK(face.absolute_luminance);
  // The truth lies within three standard uncertainties.
  CHECK(std::abs(face.pose.scale.number() / scene.mm_per_px - 1.0) < 3.0 * face.pose.scale_u_rel);
}

TEST_CASE("face: the scale does not depend on how the photo is turned", "[calibration]") {
  const Photo upright = drawn_photo(usual_scene());
  const auto reference = calibrate(upright, {});
  REQUIRE(reference.has_value());
  for (int quarters = 1; quarters < 4; ++quarters) {
    INFO("turned by " << 90 * quarters);
    const auto face = calibrate(turned(upright, quarters), {});
    REQUIRE(face.has_value());
    CHECK_THAT(face->pose.scale.number(), WithinRel(reference->pose.scale.number(), 0.0005));
    CHECK_THAT(face->radius.number(), WithinRel(reference->radius.number(), 0.0005));
  }
}

TEST_CASE("face: a photo finer than the smallest detail asks for is rectified to twelve pixels across it",
          "[calibration]") {
  const DrawnScene scene = usual_scene();
  const CalibratedFace own = calibrated(scene);
  CalibrationSettings settings;
  settings.smallest_detail = Millimetres{GENERATE(18.0, 6.0) * scene.mm_per_px};
  const CalibratedFace face = calibrated(scene, settings);
  const double wanted_mm = std::max(settings.smallest_detail->number() / 12.0, own.pose.scale.number());
  CHECK_THAT(face.grid.pitch.number(), WithinRel(wanted_mm, 1e-12));
  // What is said of the photo stays, and the blur stays as wide in millimetres.
  CHECK(face.pose.scale == own.pose.scale);
  CHECK(face.radius == own.radius);
  CHECK_THAT(face.blur_sigma_px * face.grid.pitch.number(),
             WithinRel(own.blur_sigma_px * own.grid.pitch.number(), 1e-12));
  CHECK_THAT(cv::mean(face.luminance, face.outside == 0)[0],
             WithinRel(cv::mean(own.luminance, own.outside == 0)[0], 0.002));
}

TEST_CASE("face: twice the pixels halve the millimetres per pixel", "[calibration]") {
  DrawnScene scene = usual_scene();
  const CalibratedFace coarse = calibrated(scene);
  scene.width_px *= 2;
  scene.height_px *= 2;
  scene.mm_per_px /= 2.0;
  scene.focal_px *= 2.0;
  scene.face_x_px *= 2.0;
  scene.face_y_px *= 2.0;
  const CalibratedFace fine = calibrated(scene);
  CHECK_THAT(fine.pose.scale.number(), WithinRel(0.5 * coarse.pose.scale.number(), 0.001));
  CHECK_THAT(fine.radius.number(), WithinRel(coarse.radius.number(), 0.001));
}

TEST_CASE("pose: a tilt of 8 degrees is found within 1 degree and the scale within 0.3 %", "[calibration]") {
  const double toward_deg = GENERATE(0.0, 90.0, 215.0);
  INFO("toward " << toward_deg);
  DrawnScene scene = usual_scene();
  scene.tilt_deg = 8.0;
  scene.tilt_toward_deg = toward_deg;
  const CalibratedFace face = calibrated(scene);
  CHECK_THAT(face.pose.tilt_deg, WithinAbs(8.0, 1.0));
  CHECK_THAT(face.pose.scale.number(), WithinRel(scene.mm_per_px, 0.003));
  CHECK_THAT(face.radius.number(), WithinRel(kFaceRadius_mm, 0.003));
  const double off = std::remainder(face.pose.tilt_toward_rad - toward_deg * std::numbers::pi / 180.0,
                                    2.0 * std::numbers::pi);
  CHECK(std::abs(off) < 0.2);
}

TEST_CASE("pose: the homography takes the face's centre and rim to where they were drawn", "[calibration]") {
  DrawnScene scene = usual_scene();
  scene.tilt_deg = 6.0;
  scene.tilt_toward_deg = 40.0;
  const CalibratedFace face = calibrated(scene);
  const auto found = [&](double x, double y) {
    const cv::Vec3d p = face.pose.mm_to_px * cv::Vec3d(x, y, 1.0);
    return cv::Point2d(p[0] / p[2], p[1] / p[2]);
  };
  // Up in the face plane is only up as far as tilt allows, so the rim is compared as a curve: distance from
  // the centre.
  const cv::Point2d centre = place_px(scene, 0.0, 0.0);
  CHECK_THAT(found(0.0, 0.0).x, WithinAbs(centre.x, 1.0));
  CHECK_THAT(found(0.0, 0.0).y, WithinAbs(centre.y, 1.0));
  for (const auto& [x, y] : std::array<std::array<double, 2>, 4>{{{45, 0}, {0, 45}, {-45, 0}, {0, -45}}}) {
    CHECK_THAT(found(x, y).x, WithinAbs(place_px(scene, x, y).x, 2.0));
    CHECK_THAT(found(x, y).y, WithinAbs(place_px(scene, x, y).y, 2.0));
  }
}

// By hand: a circle seen by parallel projection has minor / major = cos(tilt). cos 8.1096 = 0.99, cos 11.4783
// = 0.98, cos 18.1949 = 0.95. A very long focal length makes the drawn pinhole a parallel projection.
TEST_CASE("face: under parallel projection minor over major axis is the cosine of the tilt",
          "[calibration]") {
  const auto [tilt_deg, ratio] =
      GENERATE(table<double, double>({{8.1096, 0.99}, {11.4783, 0.98}, {18.1949, 0.95}}));
  DrawnScene scene = usual_scene();
  scene.focal_px = 60000.0;
  scene.tilt_deg = tilt_deg;
  scene.tilt_toward_deg = 30.0;
  const CalibratedFace face = calibrated(scene);
  INFO("tilt " << tilt_deg);
  CHECK_THAT(face.ellipse.semi_minor / face.ellipse.semi_major, WithinAbs(ratio, 0.002));
  CHECK_THAT(face.ellipse.semi_major * scene.mm_per_px, WithinRel(kFaceRadius_mm, 0.002));
}

TEST_CASE("face: --core-at replaces the finder and agrees with it", "[calibration]") {
  const DrawnScene scene = usual_scene();
  const CalibratedFace found = calibrated(scene);
  CalibrationSettings settings;
  settings.core_at =
      PixelCircle{scene.face_x_px + 4.0, scene.face_y_px - 3.0, kFaceRadius_mm / scene.mm_per_px + 4.0};
  const CalibratedFace given = calibrated(scene, settings);
  CHECK(given.ellipse.by_hand);
  CHECK_THAT(given.ellipse.x, WithinAbs(found.ellipse.x, 0.3));
  CHECK_THAT(given.ellipse.y, WithinAbs(found.ellipse.y, 0.3));
  CHECK_THAT(given.radius.number(), WithinRel(found.radius.number(), 0.002));
}

TEST_CASE("face: the rim band is excluded to its stated width and lies inside the rim", "[calibration]") {
  CalibrationSettings settings;
  settings.rim_band = Millimetres{3.0};
  const CalibratedFace face = calibrated(usual_scene(), settings);
  const int row = static_cast<int>(std::lround(face.grid.centre_px));
  int band = 0, inside = 0;
  for (int x = 0; x < face.grid.size_px; ++x) {
    const auto value = static_cast<Outside>(face.outside.at<unsigned char>(row, x));
    band += value == Outside::rim_band ? 1 : 0;
    inside += value == Outside::no ? 1 : 0;
  }
  // By hand: on the middle row the band is crossed twice; each crossing is known to a pixel.
  CHECK_THAT(band * face.grid.pitch.number(), WithinAbs(6.0, 2.5 * face.grid.pitch.number()));
  CHECK_THAT(inside * face.grid.pitch.number(),
             WithinAbs(2.0 * (face.radius.number() - 3.0), 2.5 * face.grid.pitch.number()));
}

TEST_CASE("face: a shadow as light as the face is told from it by colour", "[calibration]") {
  const CalibratedFace face = calibrated(shadow_as_light_as_the_face({0.20, 0.26, 0.32}, {0.58, 0.50, 0.40}));
  CHECK_THAT(face.radius.number(), WithinRel(kFaceRadius_mm, 0.004));
}

// It reaches 2 mm beyond the rim on one side and 0.4 mm on the other, so that its end is as round as the rim.
TEST_CASE("face: a shadow that falls to one side is told from the face by colour", "[calibration]") {
  const Reflectance plaster{0.235, 0.26, 0.285}, shadow{0.275, 0.25, 0.225}, bench{0.55, 0.50, 0.45};
  DrawnShape face_disc = drawn_face();
  face_disc.colour = plaster;
  DrawnScene scene =
      scene_of({{disc(0.57, 0.57, kFaceRadius_mm + 1.2, shadow), face_disc}, drawn_bar({}), {drawn_card()}});
  scene.bench = bench;
  const CalibratedFace face = calibrated(scene);
  CHECK_THAT(face.radius.number(), WithinRel(kFaceRadius_mm, 0.004));
  CHECK_THAT(face.ellipse.x, WithinAbs(scene.face_x_px, 0.7));
  CHECK_THAT(face.ellipse.y, WithinAbs(scene.face_y_px, 0.7));
}

// By hand: noise of 0.065 is a quarter of the face's light, in every channel of every pixel.
TEST_CASE("face: colour tells the rim from a shadow's end in strong noise too", "[calibration]") {
  DrawnScene scene = shadow_as_light_as_the_face({0.222, 0.26, 0.30}, {0.552, 0.50, 0.436});
  scene.noise = 0.065;
  scene.blur_px = 1.6;
  scene.width_px *= 2, scene.height_px *= 2;
  scene.mm_per_px /= 2.0;
  scene.focal_px *= 2.0, scene.face_x_px *= 2.0, scene.face_y_px *= 2.0;
  CHECK_THAT(calibrated(scene).radius.number(), WithinRel(kFaceRadius_mm, 0.004));
}

// The cup's rim shows far more clearly than the core's on a bench of nearly its tone, and gives circles
// enough to hide it.
// The overview's curve joins what is left of the rim and the edge of the break, 1.2 or 1.6 mm inside it.
TEST_CASE("face: a rim with a shallow piece broken off is followed where it is left", "[calibration]") {
  const double depth_mm = GENERATE(1.2, 1.6);
  INFO("depth " << depth_mm);
  DrawnScene scene =
      scene_of({{drawn_face()}, broken_arc(20.0, 128.0, depth_mm), drawn_bar({}), {drawn_card()}});
  const CalibratedFace face = calibrated(scene);
  CHECK_THAT(face.radius.number(), WithinAbs(kFaceRadius_mm, 0.1));
  CHECK_THAT(face.pose.scale.number(), WithinRel(scene.mm_per_px, 0.001));
  CHECK(face.ellipse.rim_found_pct > 75.0);
}

TEST_CASE("face: a cup that hangs out of the frame is not taken for the core", "[calibration]") {
  DrawnScene scene = scene_of({{drawn_face()},
                               {disc(88.0, -50.0, 30.0, grey(0.85)),
                                disc(88.0, -50.0, 27.5, grey(0.05)),
                                disc(88.0, -50.0, 26.5, grey(0.4))},
                               drawn_bar({}),
                               {drawn_card()}});
  scene.bench = grey(0.32);
  scene.mottle = 0.0;
  const CalibratedFace face = calibrated(scene);
  CHECK_THAT(face.radius.number(), WithinRel(kFaceRadius_mm, 0.004));
}

// Both rims are clear; of the cup a twelfth of the radius lies outside the frame, less than what makes a face
// too cut to be measured.
TEST_CASE("face: of two round things the one that lies whole in the frame is the core", "[calibration]") {
  DrawnScene scene = scene_of({{drawn_face(0.0, 0.0, 40.0)},
                               {disc(80.9, -20.0, 31.0, grey(0.85)), disc(80.9, -20.0, 29.5, grey(0.05))},
                               drawn_bar({})});
  CalibrationSettings settings;
  settings.no_card = true;
  const CalibratedFace face = calibrated(scene, settings);
  CHECK_THAT(face.ellipse.x, WithinAbs(scene.face_x_px, 1.0));
  CHECK_THAT(face.radius.number(), WithinRel(40.0, 0.004));
}

// The hole shows the bench. Whole in the frame, the roll's outer edge is the clear round one; where the frame
// cuts it, its hole's is.
TEST_CASE("face: a roll of tape is not taken for a second core", "[calibration]") {
  const bool whole = GENERATE(true, false);
  INFO((whole ? "whole" : "cut by the frame"));
  const double x_mm = whole ? 78.0 : 83.0, radius_mm = whole ? 28.0 : 34.0;
  DrawnScene scene = scene_of({{drawn_face()},
                               {disc(x_mm, -30.0, radius_mm, {0.8, 0.7, 0.3}),
                                disc(x_mm, -30.0, 0.68 * radius_mm, DrawnScene{}.bench)},
                               drawn_bar({})});
  CalibrationSettings settings;
  settings.no_card = true;
  const CalibratedFace face = calibrated(scene, settings);
  CHECK_THAT(face.ellipse.x, WithinAbs(scene.face_x_px, 1.0));
  CHECK_THAT(face.radius.number(), WithinRel(kFaceRadius_mm, 0.004));
}
