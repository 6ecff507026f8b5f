#include "calibration/calibrated.hpp"
#include "drawn_photo.hpp"

#include "corefleck/calibration.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace corefleck;
using namespace corefleck::testing;

namespace {

DrawnScene scene_with(const DrawnBar& bar) {
  return scene_of({{drawn_face()}, drawn_bar(bar), {drawn_card()}});
}

void check_scale(const DrawnScene& scene, const CalibratedFace& face) {
  CHECK_THAT(face.pose.scale.number(), WithinRel(scene.mm_per_px, 0.002));
}

}  // namespace

TEST_CASE("scale bar: all six edges of five blocks are used, within a tenth of a pixel of equal spacing",
          "[calibration]") {
  const DrawnScene scene = scene_with({});
  const CalibratedFace face = calibrated(scene);
  CHECK(face.bar.used_edges() == 6);
  CHECK(face.bar.residual_px < 0.1);
  CHECK_FALSE(face.bar.by_hand);
  // By hand: 50 mm at 0.13 mm per px.
  CHECK_THAT(std::hypot(face.bar.axis.x2 - face.bar.axis.x1, face.bar.axis.y2 - face.bar.axis.y1),
             WithinAbs(50.0 / 0.13, 0.5));
  check_scale(scene, face);
}

TEST_CASE("scale bar: edges tell the blur that the photo was drawn with", "[calibration]") {
  const double blur_px = GENERATE(1.0, 1.8);
  DrawnScene scene = scene_with({});
  scene.blur_px = blur_px;
  // By hand: 10 to 90 % of a Gaussian edge is 2 x 1.28155 sigma; the pixel's own width adds 1/12 to the
  // variance.
  const double expected = 2.5631 * std::sqrt(blur_px * blur_px + 1.0 / 12.0);
  CHECK_THAT(calibrated(scene).bar.edge_width_px, WithinRel(expected, 0.25));
}

TEST_CASE("scale bar: end blocks that merge with a black strip leave the scale right", "[calibration]") {
  DrawnBar bar;
  bar.strip = 0.05;
  bar.first_dark = true;
  const DrawnScene scene = scene_with(bar);
  const CalibratedFace face = calibrated(scene);
  CHECK(face.bar.used_edges() >= 4);
  check_scale(scene, face);
}

TEST_CASE("scale bar: light end blocks that merge with a white strip leave the scale right",
          "[calibration]") {
  DrawnBar bar;
  bar.strip = 0.85;
  bar.first_dark = false;
  const DrawnScene scene = scene_with(bar);
  check_scale(scene, calibrated(scene));
}

TEST_CASE("scale bar: a strip that ends soon after its blocks does not move the end edges", "[calibration]") {
  DrawnBar bar;
  bar.margin_mm = 4.0;
  const DrawnScene scene = scene_with(bar);
  const CalibratedFace face = calibrated(scene);
  check_scale(scene, face);
  CHECK(face.bar.residual_px < 0.25);
}

// What is left of the end block's edge has its middle off the bar's own.
TEST_CASE("scale bar: a corner under a label does not slant the axis through high blocks", "[calibration]") {
  DrawnBar bar;
  bar.length_mm = 20.0, bar.blocks = 4, bar.y_mm = -58.0;
  bar.height_mm = GENERATE(8.0, 12.0);
  const double side = GENERATE(-1.0, 1.0), covered = GENERATE(0.3, 0.4);
  INFO(bar.height_mm << " mm high, covered on side " << side << " by " << covered);
  DrawnScene scene = scene_with(bar);
  scene.shapes.push_back(rectangle(bar.x_mm - 9.0,
                                   bar.y_mm + side * (0.5 * (1.0 - covered) * bar.height_mm + 2.0),
                                   12.0,
                                   covered * bar.height_mm + 4.0,
                                   grey(bar.strip)));
  CalibrationSettings settings;
  settings.bar_length = Millimetres{bar.length_mm};
  settings.bar_blocks = bar.blocks;
  CHECK_THAT(calibrated(scene, settings).pose.scale.number(), WithinRel(scene.mm_per_px, 0.001));
}

TEST_CASE("scale bar: four and ten blocks are read when the user says so", "[calibration]") {
  const int blocks = GENERATE(4, 10);
  INFO(blocks << " blocks");
  DrawnBar bar;
  bar.blocks = blocks;
  const DrawnScene scene = scene_with(bar);
  CalibrationSettings settings;
  settings.bar_blocks = blocks;
  const CalibratedFace face = calibrated(scene, settings);
  check_scale(scene, face);
  CHECK(face.bar.used_edges() >= blocks);
}

TEST_CASE("scale bar: of four blocks the one that merges with the strip is seen at its own end",
          "[calibration]") {
  DrawnBar bar;
  bar.blocks = 4;
  bar.first_dark = GENERATE(true, false);
  bar.margin_mm = 4.0;
  DrawnScene scene = scene_with(bar);
  scene.bench = grey(GENERATE(0.08, 0.6));  // a light one looks like the strip going on at both ends
  CalibrationSettings settings;
  settings.bar_blocks = 4;
  const PixelSegment axis = calibrated(scene, settings).bar.axis;
  const cv::Point2d left = place_px(scene, -25.0, -55.0), right = place_px(scene, 25.0, -55.0);
  INFO(axis.x1 << " " << axis.x2);
  CHECK_THAT(std::min(axis.x1, axis.x2), WithinAbs(left.x, 2.0));
  CHECK_THAT(std::max(axis.x1, axis.x2), WithinAbs(right.x, 2.0));
}

TEST_CASE("scale bar: a bar at a slant across the photo tells the same scale", "[calibration]") {
  DrawnBar bar;
  bar.x_mm = 70.0;
  bar.y_mm = -40.0;
  bar.turn_deg = 35.0;
  bar.length_mm = 40.0;
  const DrawnScene scene = scene_with(bar);
  CalibrationSettings settings;
  settings.bar_length = Millimetres{40.0};
  check_scale(scene, calibrated(scene, settings));
}

TEST_CASE("scale bar: a ruler's ticks beside the blocks are not taken for edges", "[calibration]") {
  DrawnBar bar;
  bar.ruler_ticks = true;
  const DrawnScene scene = scene_with(bar);
  check_scale(scene, calibrated(scene));
}

TEST_CASE("scale bar: blocks printed wider than they should be leave the scale right", "[calibration]") {
  // Ink that spreads, or a camera's tone curve: each of the two dark blocks between merged ends grows by as
  // much on both sides. By hand: the four edges' distances then tell a scale that is 0.4 x 2 x 0.08 / 10 =
  // 0.6 % off.
  DrawnScene scene =
      scene_of({{drawn_face()}, {rectangle(0.0, -55.0, 66.0, 18.0, grey(0.85))}, {drawn_card()}});
  for (const double x_mm : {-10.0, 10.0})
    scene.shapes.push_back(rectangle(x_mm, -55.0, 10.0 + 2.0 * 0.08, 6.0, grey(0.05)));
  CHECK_THAT(calibrated(scene).pose.scale.number(), WithinRel(scene.mm_per_px, 0.001));
}

TEST_CASE("scale bar: a thin outline around light end blocks is no edge", "[calibration]") {
  DrawnBar bar;
  bar.first_dark = false;
  bar.margin_mm = 3.0;
  DrawnScene scene = scene_with(bar);
  for (const double side : {-1.0, 1.0}) {
    scene.shapes.push_back(rectangle(side * 24.9, -55.0, 0.2, 6.0, grey(0.05)));
    scene.shapes.push_back(rectangle(0.0, -55.0 + side * 2.9, 50.0, 0.2, grey(0.05)));
  }
  const CalibratedFace face = calibrated(scene);
  CHECK(face.bar.used_edges() == 4);
  CHECK_THAT(face.pose.scale.number(), WithinRel(scene.mm_per_px, 0.001));
}

// Both tones are far above the face's, and cover less than a fiftieth of the frame.
TEST_CASE("scale bar: white blocks on a grey strip that is lighter than all else are told apart",
          "[calibration]") {
  const std::vector<DrawnShape> bar{rectangle(0.0, -57.0, 64.0, 7.0, grey(0.45)),
                                    rectangle(-10.0, -57.0, 10.0, 7.0, grey(0.9)),
                                    rectangle(10.0, -57.0, 10.0, 7.0, grey(0.9))};
  DrawnScene scene = scene_of({{drawn_face()}, bar, {drawn_card()}});
  scene.bench = grey(0.12);
  const CalibratedFace face = calibrated(scene);
  CHECK(face.bar.used_edges() == 4);
  CHECK_THAT(face.pose.scale.number(), WithinRel(scene.mm_per_px, 0.002));
}

// The line makes the end blocks 3 px longer than the others, some of 77 px.
TEST_CASE("scale bar: a dark outline around dark end blocks leaves the scale right", "[calibration]") {
  constexpr double kLine_mm = 0.4;
  CalibrationSettings settings;
  settings.bar_blocks = GENERATE(5, 7);
  const double length_mm = 10.0 * settings.bar_blocks;
  settings.bar_length = Millimetres{length_mm};
  std::vector<DrawnShape> bar{
      rectangle(0.0, -55.0, length_mm + 10.0, 14.0, grey(0.5)),
      rectangle(0.0, -55.0, length_mm + 2.0 * kLine_mm, 7.0 + 2.0 * kLine_mm, grey(0.05))};
  for (double x_mm = 15.0 - 0.5 * length_mm; x_mm < 0.5 * length_mm; x_mm += 20.0)
    bar.push_back(rectangle(x_mm, -55.0, 10.0, 7.0, grey(0.85)));
  const DrawnScene scene = scene_of({{drawn_face()}, bar, {drawn_card()}});
  const CalibratedFace face = calibrated(scene, settings);
  CHECK(face.bar.used_edges() == settings.bar_blocks - 1);
  CHECK_THAT(face.pose.scale.number(), WithinRel(scene.mm_per_px, 0.002));
}

TEST_CASE("scale bar: all edges count on a strip hardly longer than its blocks, on a bench of any tone",
          "[calibration]") {
  const double bench = GENERATE(0.05, 0.3, 0.6);
  INFO("bench " << bench);
  DrawnBar bar;
  bar.margin_mm = 1.5;
  DrawnScene scene = scene_with(bar);
  scene.bench = grey(bench);
  const CalibratedFace face = calibrated(scene);
  CHECK(face.bar.used_edges() == 6);
  CHECK_THAT(face.pose.scale.number(), WithinRel(scene.mm_per_px, 0.001));
}

TEST_CASE("scale bar: stripes of the blocks' own width beside the bar are not taken for it",
          "[calibration]") {
  std::vector<DrawnShape> stripes;
  for (int k = -9; k <= 9; k += 2) stripes.push_back(rectangle(10.0 * k, 0.0, 10.0, 400.0, grey(0.12)));
  DrawnBar bar;
  bar.length_mm = 40.0;
  DrawnScene scene = scene_of({stripes, {drawn_face()}, drawn_bar(bar), {drawn_card()}});
  CalibrationSettings settings;
  settings.bar_length = Millimetres{40.0};
  check_scale(scene, calibrated(scene, settings));
}

TEST_CASE("scale bar: blocks under light that falls by half along them keep their tones", "[calibration]") {
  DrawnScene scene = scene_with({});
  scene.light_slope_pct = 70.0;
  check_scale(scene, calibrated(scene));
}

TEST_CASE("scale bar: four blocks under a close, strongly tilted camera are read", "[calibration]") {
  DrawnBar bar;
  bar.length_mm = 60.0;
  bar.blocks = 4;
  bar.first_dark = false;
  bar.margin_mm = 1.5;
  DrawnScene scene = scene_with(bar);
  scene.focal_px = 1000.0;  // 130 mm away
  scene.tilt_deg = 10.0;
  CalibrationSettings settings;
  settings.bar_length = Millimetres{60.0};
  settings.bar_blocks = 4;
  check_scale(scene, calibrated(scene, settings));
}

TEST_CASE("scale bar: a strip that goes on for just a block's length at both ends adds no blocks",
          "[calibration]") {
  DrawnBar bar;
  bar.margin_mm = GENERATE(10.0, 9.7);
  INFO("margin " << bar.margin_mm << " mm");
  const DrawnScene scene = scene_with(bar);
  const CalibratedFace face = calibrated(scene);
  CHECK(face.bar.used_edges() == 6);
  check_scale(scene, face);
}

TEST_CASE("scale bar: two more blocks than the user says are no margins of a strip", "[calibration]") {
  DrawnBar bar;
  bar.blocks = 7;
  bar.first_dark = true;
  const auto face = calibrate(drawn_photo(scene_with(bar)), {});
  REQUIRE_FALSE(face.has_value());
  CHECK(face.error().code == ErrorCode::scale_bar_not_found);
}

TEST_CASE("scale bar: hundreds of lines of a cutting mat do not hide it", "[calibration]") {
  std::vector<DrawnShape> lines;
  for (int k = -30; k <= 45; ++k) {
    lines.push_back(rectangle(4.0 * k, 0.0, 0.7, 400.0, grey(0.5), 20.0));
    lines.push_back(rectangle(0.0, 4.0 * k, 400.0, 0.7, grey(0.5), 20.0));
  }
  DrawnBar bar;
  bar.first_dark = false;  // both ends merge with the strip: only four edges are seen
  bar.margin_mm = 6.0;
  DrawnScene scene = scene_of({lines, {drawn_face()}, drawn_bar(bar), {drawn_card()}});
  scene.bench = grey(0.1);
  check_scale(scene, calibrated(scene));
}

// Lines of the mat lie a block apart in line with the blocks, so that the row of edges goes on beyond the
// bar.
TEST_CASE("scale bar: lines of a mat that happen to continue its blocks do not make it another thing",
          "[calibration]") {
  std::vector<DrawnShape> lines;
  const DrawnBar usual;
  for (int k = -7; k <= 9; ++k) lines.push_back(rectangle(10.0 * k - 5.0, usual.y_mm, 0.8, 5.0, grey(0.30)));
  DrawnBar bar;
  bar.first_dark = true;
  bar.strip = 0.05;
  bar.margin_mm = GENERATE(2.0, 4.0);
  const std::vector<DrawnShape> outline{rectangle(-25.0, bar.y_mm, 0.5, bar.height_mm, grey(0.85)),
                                        rectangle(25.0, bar.y_mm, 0.5, bar.height_mm, grey(0.85))};
  DrawnScene scene = scene_of({lines, {drawn_face()}, drawn_bar(bar), outline, {drawn_card()}});
  scene.bench = grey(0.1);
  check_scale(scene, calibrated(scene));
}

TEST_CASE("scale bar: the arms of an L are one ruler, however far the second begins from the corner",
          "[calibration]") {
  DrawnBar flat, upright;
  flat.margin_mm = upright.margin_mm = 4.0;
  upright.turn_deg = 90.0;
  upright.x_mm = 74.0;
  upright.y_mm = 15.0;
  flat.x_mm = 45.0;
  SECTION("joined by the strip") {
    const DrawnScene scene =
        scene_of({{drawn_face()},
                  drawn_bar(flat),
                  drawn_bar(upright),
                  {rectangle(76.0, -35.0, 10.0, 54.0, grey(0.85)), drawn_card(0.18, 105.0, 5.0)}});
    check_scale(scene, calibrated(scene));
  }
  SECTION("with bench between them") {
    const DrawnScene scene =
        scene_of({{drawn_face()}, drawn_bar(flat), drawn_bar(upright), {drawn_card(0.18, 105.0, 5.0)}});
    const auto face = calibrate(drawn_photo(scene), {});
    REQUIRE_FALSE(face.has_value());
    CHECK(face.error().code == ErrorCode::scale_bar_ambiguous);
  }
}

TEST_CASE(
    "scale bar: where the likeliest row's blocks turn out unequal in the face's plane, the next is tried",
    "[calibration]") {
  // Five blocks that widen as a bar does that a close camera sees from a slant; this one looks straight down.
  std::vector<DrawnShape> widening{rectangle(-20.0, 62.0, 84.0, 16.0, grey(0.85))};
  double x_mm = -45.0;
  const auto edge = [](int k) { return 10.0 * k / (1.0 - 0.03 * k); };
  for (int k = 0; k < 5; ++k) {
    const double width = edge(k + 1) - edge(k);
    if (k % 2 == 0) widening.push_back(rectangle(x_mm + 0.5 * width, 62.0, width, 6.0, grey(0.05)));
    x_mm += width;
  }
  DrawnBar bar;
  bar.first_dark = false;  // four edges of six: less likely
  DrawnScene scene = scene_of({{drawn_face()}, widening, drawn_bar(bar), {drawn_card()}});
  scene.face_y_px = 540.0;
  check_scale(scene, calibrated(scene));
}

TEST_CASE("scale bar: a bar said to be twice as long doubles the scale", "[calibration]") {
  const DrawnScene scene = scene_with({});
  CalibrationSettings settings;
  settings.bar_length = Millimetres{100.0};
  CHECK_THAT(calibrated(scene, settings).pose.scale.number(), WithinRel(2.0 * scene.mm_per_px, 0.002));
}

TEST_CASE("scale bar: --bar-ends replaces the finder and agrees with it", "[calibration]") {
  const DrawnScene scene = scene_with({});
  const CalibratedFace found = calibrated(scene);
  const cv::Point2d a = place_px(scene, -25.0, -55.0), b = place_px(scene, 25.0, -55.0);
  CalibrationSettings settings;
  settings.bar_ends = PixelSegment{a.x + 3.0, a.y, b.x - 2.0, b.y + 2.0};
  const CalibratedFace given = calibrated(scene, settings);
  CHECK(given.bar.by_hand);
  CHECK_THAT(given.pose.scale.number(), WithinRel(found.pose.scale.number(), 0.001));
}

// JCGM 100:2008 eq. 10; 4.3.7 for the rectangular half-width: 0.05 % / sqrt 3 = 0.0289 %.
TEST_CASE(
    "scale: its uncertainty is the root sum of squares of its components, the bar's tolerance among them",
    "[calibration]") {
  const CalibratedFace face = calibrated(scene_with({}));
  double squares = 0.0;
  bool length_named = false;
  for (const auto& component : face.pose.scale_components) {
    squares += component.contribution * component.contribution;
    CHECK_FALSE(component.name.empty());
    CHECK_FALSE(component.origin.empty());
    if (component.name != "bar length") continue;
    length_named = true;
    CHECK_THAT(component.contribution, WithinAbs(0.05 / std::sqrt(3.0), 1e-9));
  }
  CHECK(length_named);
  CHECK_THAT(100.0 * face.pose.scale_u_rel, WithinRel(std::sqrt(squares), 1e-9));
}

TEST_CASE("scale: a stated height of the bar widens the uncertainty and leaves the scale alone",
          "[calibration]") {
  const DrawnScene scene = scene_with({});
  CalibrationSettings settings;
  const CalibratedFace level = calibrated(scene);
  settings.bar_height = Millimetres{5.0};
  const CalibratedFace raised = calibrated(scene, settings);
  CHECK(raised.pose.scale.number() == level.pose.scale.number());
  // By hand: camera distance = focal_px x mm_per_px = 1600 x 0.13 = 208 mm; 5 / 208 / sqrt 3 = 1.388 %, and
  // the camera's own focal length is known to 6 %.
  const double added = std::sqrt(raised.pose.scale_u_rel * raised.pose.scale_u_rel -
                                 level.pose.scale_u_rel * level.pose.scale_u_rel);
  CHECK_THAT(100.0 * added, WithinRel(1.388, 0.2));
}
