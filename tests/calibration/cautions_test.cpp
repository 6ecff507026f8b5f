#include "calibration/calibrated.hpp"
#include "drawn_photo.hpp"

#include "corefleck/calibration.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>

using namespace corefleck;
using namespace corefleck::testing;

namespace {

bool warns(const CalibratedFace& face, CautionKind kind) {
  return std::any_of(
      face.cautions.begin(), face.cautions.end(), [&](const Caution& c) { return c.kind == kind; });
}

}  // namespace

TEST_CASE("caution: a good photo raises none", "[calibration]") {
  const CalibratedFace face = calibrated(usual_scene());
  for (const Caution& caution : face.cautions) INFO(name(caution.kind) << ": " << caution.detail);
  CHECK(face.cautions.empty());
}

TEST_CASE("caution: an overexposed card", "[calibration]") {
  DrawnScene scene = scene_of({{drawn_face()}, drawn_bar({}), {drawn_card(0.80)}});
  scene.exposure = 1.4;
  CalibrationSettings settings;
  settings.card_reflectance = 0.80;
  CHECK(warns(calibrated(scene, settings), CautionKind::card_clipped));
}

TEST_CASE("caution: a card lost in the dark", "[calibration]") {
  DrawnScene scene = usual_scene();
  scene.exposure = 0.08;
  scene.noise = 0.001;
  const CalibratedFace face = calibrated(scene);
  CHECK(warns(face, CautionKind::card_too_dark));
  CHECK_FALSE(warns(face, CautionKind::card_clipped));
}

TEST_CASE("caution: a card of another reflectance than the stated one, and none for the stated one",
          "[calibration]") {
  const DrawnScene scene = scene_of({{drawn_face()}, drawn_bar({}), {drawn_card(0.50)}});
  CalibrationSettings settings;
  settings.card_reflectance = 0.50;
  const CalibratedFace as_stated = calibrated(scene, settings);
  CHECK_FALSE(warns(as_stated, CautionKind::card_unlike_bar));
  CHECK(as_stated.card->white_reflectance == Approx(DrawnBar{}.strip).epsilon(0.05));

  const cv::Point2d at = place_px(scene, 75.0, 5.0);
  settings.card_reflectance = 0.18;
  settings.card_at = PixelBox{at.x - 20.0, at.y - 20.0, 40.0, 40.0};
  const CalibratedFace mistaken = calibrated(scene, settings);
  CHECK(warns(mistaken, CautionKind::card_unlike_bar));
  CHECK(mistaken.card->white_reflectance == Approx(0.36 * DrawnBar{}.strip).epsilon(0.05));
}

TEST_CASE("caution: light that changes across the card", "[calibration]") {
  DrawnScene scene = usual_scene();
  scene.light_slope_pct = -75.0;
  scene.light_toward_deg = 90.0;
  scene.exposure = 0.7;
  CHECK(warns(calibrated(scene), CautionKind::card_uneven));
}

// By hand: a slope of 90 % per 100 mm leaves the card, 75 mm on, in 1.7 times the light at the face's centre.
TEST_CASE("caution: a card in far more light than the face, and none for one in a fifth more",
          "[calibration]") {
  DrawnScene scene = usual_scene();
  scene.light_slope_pct = 90.0;
  scene.exposure = 0.5;
  CHECK(warns(calibrated(scene), CautionKind::card_lit_otherwise));
  scene.light_slope_pct = 27.0;
  CHECK_FALSE(warns(calibrated(scene), CautionKind::card_lit_otherwise));
}

TEST_CASE("caution: no card", "[calibration]") {
  CalibrationSettings settings;
  settings.no_card = true;
  CHECK(warns(calibrated(usual_scene(), settings), CautionKind::no_card));
}

TEST_CASE("caution: few pixels of the card", "[calibration]") {
  CalibrationSettings settings;
  const cv::Point2d at = place_px(usual_scene(), 75.0, 5.0);
  settings.card_at = PixelBox{at.x, at.y, 6.0, 6.0};
  CHECK(warns(calibrated(usual_scene(), settings), CautionKind::card_small));
}

TEST_CASE("caution: light that changes strongly across the face, told with its change", "[calibration]") {
  DrawnScene scene = usual_scene();
  scene.light_slope_pct = 45.0;
  scene.light_toward_deg = 200.0;
  const CalibratedFace face = calibrated(scene);
  CHECK(warns(face, CautionKind::light_uneven));
}

TEST_CASE("caution: a camera held at 8 degrees, and none at 3", "[calibration]") {
  DrawnScene scene = usual_scene();
  scene.tilt_deg = 8.0;
  scene.tilt_toward_deg = 60.0;
  CHECK(warns(calibrated(scene), CautionKind::strong_tilt));
  scene.tilt_deg = 3.0;
  CHECK_FALSE(warns(calibrated(scene), CautionKind::strong_tilt));
}

TEST_CASE("caution: a diameter 4 % off the nominal one, and none at 1 %", "[calibration]") {
  CalibrationSettings settings;
  settings.core_diameter = Millimetres{2.0 * kFaceRadius_mm / 1.04};
  const CalibratedFace off = calibrated(usual_scene(), settings);
  CHECK(warns(off, CautionKind::diameter_off_nominal));
  settings.core_diameter = Millimetres{2.0 * kFaceRadius_mm / 1.01};
  const CalibratedFace near = calibrated(usual_scene(), settings);
  CHECK_FALSE(warns(near, CautionKind::diameter_off_nominal));
  // A cross-check only: the nominal diameter never sets the scale.
  CHECK(near.pose.scale.number() == off.pose.scale.number());
}

TEST_CASE("caution: a bar with most of its edges covered", "[calibration]") {
  DrawnBar bar;
  bar.blocks = 10;
  DrawnScene scene = scene_of({{drawn_face()}, drawn_bar(bar), {drawn_card()}});
  scene.shapes.push_back(rectangle(20.0, -55.0, 18.0, 14.0, scene.bench));
  const cv::Point2d a = place_px(scene, -25.0, -55.0), b = place_px(scene, 25.0, -55.0);
  CalibrationSettings settings;
  settings.bar_blocks = 10;
  settings.bar_ends = PixelSegment{a.x, a.y, b.x, b.y};
  CHECK(warns(calibrated(scene, settings), CautionKind::few_bar_edges));
}

TEST_CASE("caution: unequal blocks between ends given by hand, and none for equal ones", "[calibration]") {
  DrawnScene scene = scene_of({{drawn_face()}, drawn_bar({}), {drawn_card()}});
  CHECK_FALSE(warns(calibrated(scene), CautionKind::bar_irregular));
  // Two ends of dark blocks, 0.4 mm late and early.
  scene.shapes.push_back(rectangle(-14.8, -55.0, 0.4, 6.0, grey(0.05)));
  scene.shapes.push_back(rectangle(4.8, -55.0, 0.4, 6.0, grey(0.85)));
  const cv::Point2d a = place_px(scene, -25.0, -55.0), b = place_px(scene, 25.0, -55.0);
  CalibrationSettings settings;
  settings.bar_ends = PixelSegment{a.x, a.y, b.x, b.y};
  CHECK(warns(calibrated(scene, settings), CautionKind::bar_irregular));
}

TEST_CASE("caution: a light too coloured to be neutralised", "[calibration]") {
  DrawnScene scene = usual_scene();
  scene.light = {1.3, 0.9, 0.35};
  scene.exposure = 0.7;
  CHECK(warns(calibrated(scene), CautionKind::strong_cast));
}

TEST_CASE("caution: a face that hangs out of the frame", "[calibration]") {
  DrawnScene scene = scene_of({{drawn_face()}, {drawn_card(0.18, 75.0, 10.0)}, drawn_bar({})});
  scene.face_y_px = 300.0;
  CHECK(warns(calibrated(scene), CautionKind::face_cut_by_frame));
}

// Grain and the paper's shadow once passed for 72 % of the rim.
TEST_CASE("caution: a rim half hidden under a sheet of paper", "[calibration]") {
  DrawnScene scene = usual_scene();
  scene.shapes.push_back(rectangle(-27.0, 10.0, 50.0, 120.0, grey(0.8)));
  const CalibratedFace face = calibrated(scene);
  INFO(face.ellipse.rim_found_pct << " % of the rim");
  CHECK(warns(face, CautionKind::rim_incomplete));
}

// A bevel has two edges, either of which may pass for the rim where that is not seen whole.
TEST_CASE("caution: a rim with a bevel that is not seen whole, and none for one that is", "[calibration]") {
  const auto ringed = [](bool covered) {
    DrawnScene scene = usual_scene();
    const DrawnShape ring = disc(0.0, 0.0, kFaceRadius_mm, grey(0.31));
    const DrawnShape inner = disc(0.0, 0.0, kFaceRadius_mm - 1.2, grey(kMatrix_Y));
    std::vector<DrawnShape> cover;
    if (covered) cover.push_back(rectangle(-33.0, 33.0, 40.0, 44.0, grey(0.31), 45.0));
    scene = scene_of({{ring, inner}, cover, drawn_bar({.y_mm = -62.0}), {drawn_card()}});
    return calibrated(scene);
  };
  const CalibratedFace whole = ringed(false), part = ringed(true);
  INFO(whole.ellipse.rim_found_pct << " and " << part.ellipse.rim_found_pct << " % of the rim");
  CHECK_FALSE(warns(whole, CautionKind::rim_incomplete));
  CHECK(warns(part, CautionKind::rim_incomplete));
  CHECK(part.radius_u_mm > 3.0 * whole.radius_u_mm);
}
