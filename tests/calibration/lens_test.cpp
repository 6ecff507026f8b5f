#include "calibration/calibrated.hpp"
#include "drawn_photo.hpp"

#include "corefleck/calibration.hpp"

#include <catch2/catch.hpp>
#include <opencv2/calib3d.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace corefleck;
using namespace corefleck::testing;

namespace {

LensBend lens_of(double bend) { return {{1199.5, 899.5}, 1500.0, bend}; }

std::vector<cv::Point2d> places_in_frame() {
  std::vector<cv::Point2d> places;
  for (int y = 0; y < 1800; y += 257)
    for (int x = 0; x < 2400; x += 211) places.emplace_back(x, y);
  return places;
}

// OpenCV's rational model with k4 alone divides by 1 + k4 r^2; a focal length of half a diagonal gives its r
// our unit.
cv::Matx33d camera_of(const LensBend& lens) {
  return {lens.half_diagonal_px, 0, lens.middle.x, 0, lens.half_diagonal_px, lens.middle.y, 0, 0, 1};
}
std::vector<double> terms_of(const LensBend& lens) { return {0, 0, 0, 0, 0, lens.at_corner, 0, 0}; }

const UncertaintyComponent& lens_component(const CalibratedFace& face) {
  const auto& all = face.pose.scale_components;
  const auto it = std::find_if(
      all.begin(), all.end(), [](const UncertaintyComponent& c) { return c.name == "lens bend"; });
  REQUIRE(it != all.end());
  return *it;
}

// Face left of the middle, bar along the right border, card in the corner: each is shifted differently.
DrawnScene spread_scene() {
  DrawnBar bar;
  bar.x_mm = 84.0, bar.y_mm = 12.0, bar.turn_deg = 90.0, bar.length_mm = 80.0, bar.blocks = 8;
  DrawnScene scene = scene_of({{drawn_face()}, drawn_bar(bar), {drawn_card(0.18, 62.0, -52.0)}});
  scene.face_x_px = 420.0, scene.face_y_px = 500.0;
  return scene;
}

CalibrationSettings spread_settings() {
  CalibrationSettings settings;
  settings.bar_length = Millimetres{80.0};
  settings.bar_blocks = 8;
  return settings;
}

}  // namespace

// Published: the division model of [Fitzgibbon2001], eq. 5; oracle: OpenCV, which solves it by other means.
TEST_CASE("lens: straightened and bent are OpenCV's projectPoints and undistortPoints", "[calibration]") {
  const LensBend lens = lens_of(GENERATE(-0.05, -0.02, -0.005, 0.01, 0.03));
  const std::vector<cv::Point2d> places = places_in_frame();
  std::vector<cv::Point3d> rays;
  for (const cv::Point2d& p : places) {
    const cv::Point2d ray = (p - lens.middle) / lens.half_diagonal_px;
    rays.emplace_back(ray.x, ray.y, 1.0);
  }
  const cv::Vec3d none(0, 0, 0);
  std::vector<cv::Point2d> straight, seen;
  cv::projectPoints(rays, none, none, camera_of(lens), terms_of(lens), straight);
  cv::undistortPoints(places,
                      seen,
                      camera_of(lens),
                      terms_of(lens),
                      cv::noArray(),
                      camera_of(lens),
                      cv::TermCriteria(cv::TermCriteria::COUNT | cv::TermCriteria::EPS, 200, 1e-13));
  for (std::size_t i = 0; i < places.size(); ++i) {
    CHECK(cv::norm(lens.straightened(places[i]) - straight[i]) < 1e-8);
    CHECK(cv::norm(lens.bent(places[i]) - seen[i]) < 1e-6);
  }
}

// D. C. Brown, Photogrammetric Engineering 32 (1966) 444-462: the first radial term, dr = K1 r^3. By hand:
// the division model's root is r (1 + t + 2 t^2 + 5 t^3 ...), t = bend r^2, so that the two part by 2 t^2 at
// first.
TEST_CASE("lens: small bends are Brown's first radial term", "[calibration]") {
  const double bend = GENERATE(-0.02, -0.005, 0.005, 0.02);
  const LensBend lens = lens_of(bend);
  for (const cv::Point2d& p : places_in_frame()) {
    const double r = cv::norm(p - lens.middle) / lens.half_diagonal_px, t = bend * r * r;
    const cv::Point2d brown = lens.middle + (p - lens.middle) * (1.0 + t);
    CHECK(cv::norm(lens.bent(p) - brown) <= (2.0 * t * t + 6.0 * std::abs(t * t * t)) * r * 1500.0 + 1e-9);
  }
}

TEST_CASE("lens: magnification is the root of how a small square grows", "[calibration]") {
  const LensBend lens = lens_of(GENERATE(-0.03, 0.02));
  for (const cv::Point2d& p : places_in_frame()) {
    const cv::Point2d straight = lens.straightened(p), x(0.5, 0.0), y(0.0, 0.5);
    const double area = (lens.bent(straight + x) - lens.bent(straight - x))
                            .cross(lens.bent(straight + y) - lens.bent(straight - y));
    CHECK_THAT(lens.magnification(p), WithinRel(std::sqrt(area), 1e-6));
  }
}

TEST_CASE("lens: a photo that a lens bent gives the core's size within its interval", "[calibration]") {
  DrawnScene scene = spread_scene();
  scene.lens_k = GENERATE(-0.02, -0.01, -0.005, 0.005, 0.01);
  scene.tilt_deg = GENERATE(0.0, 2.0);
  scene.tilt_toward_deg = 40.0;
  INFO("k " << scene.lens_k << ", tilt " << scene.tilt_deg);
  const CalibratedFace face = calibrated(scene, spread_settings());
  CHECK(std::abs(face.radius.number() - kFaceRadius_mm) < kCoverage95 * face.radius_u_mm);
  CHECK(face.pose.lens.at_corner * scene.lens_k > 0.0);
}

TEST_CASE("lens: a straight photo keeps its scale, and the bend is within its interval of none",
          "[calibration]") {
  DrawnScene scene = spread_scene();
  scene.tilt_deg = GENERATE(0.0, 2.0);
  scene.tilt_toward_deg = 200.0;
  const CalibratedFace face = calibrated(scene, spread_settings());
  CHECK_THAT(face.pose.scale.number(), WithinRel(scene.mm_per_px, 0.001));
  CHECK(std::abs(face.pose.lens.at_corner) < kCoverage95 * face.pose.lens_u);
}

TEST_CASE("lens: the rectified face shows a disc where it lies on the core", "[calibration]") {
  DrawnScene scene = spread_scene();
  const cv::Point2d at(GENERATE(-30.0, 0.0, 30.0), 22.0);
  scene.shapes.push_back(disc(at.x, at.y, 3.0, grey(0.7)));
  scene.lens_k = -0.02;
  const CalibratedFace face = calibrated(scene, spread_settings());
  cv::Point2d sum(0.0, 0.0);
  int count = 0;
  for (int row = 0; row < face.grid.size_px; ++row)
    for (int column = 0; column < face.grid.size_px; ++column) {
      const cv::Point2d place(face.grid.x_mm(column), face.grid.y_mm(row));
      if (cv::norm(place - at) > 5.0 || face.luminance.at<float>(row, column) < 0.45F) continue;
      sum += place;
      ++count;
    }
  REQUIRE(count > 100);
  CHECK(cv::norm(sum / count - at) < 0.13);  // a photo pixel
  CHECK_THAT(count * std::pow(face.grid.pitch.number(), 2.0), WithinRel(CV_PI * 9.0, 0.03));
}

// By hand: at half the size in the frame all shifts by a given bend are a quarter.
TEST_CASE("lens: what the bend adds to the scale's interval follows from where things lie", "[calibration]") {
  DrawnScene scene = spread_scene();
  const UncertaintyComponent filling = lens_component(calibrated(scene, spread_settings()));
  scene.face_x_px += 0.5 * scene.width_px, scene.face_y_px += 0.5 * scene.height_px;
  scene.width_px *= 2, scene.height_px *= 2;
  const UncertaintyComponent small = lens_component(calibrated(scene, spread_settings()));
  CHECK_THAT(filling.contribution,
             WithinRel(std::abs(filling.sensitivity) * filling.standard_uncertainty, 1e-9));
  // How much less hangs on what tilt and focal length take up of it.
  CHECK(std::abs(small.sensitivity) < 0.8 * std::abs(filling.sensitivity));
}
