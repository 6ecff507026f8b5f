#include "segmentation/reflections.hpp"

#include "drawn_photo.hpp"

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>

using Catch::Matchers::WithinAbs;
using namespace corefleck;
using namespace corefleck::testing;

namespace {

constexpr int kSize_px = 600;
constexpr MmPerPx kPitch{0.1};
constexpr double kBlur_px = 1.0;

/// r = radius (1 + depth cos(9 angle)): a disc, or ragged.
Outlined region(double column, double row, double radius, double height, double depth = 0.0) {
  Outlined drawn{};
  drawn.region.outline.reserve(720);
  std::vector<cv::Point> corners;
  double twice_area = 0.0;
  for (int k = 0; k < 720; ++k) {
    const double angle = std::numbers::pi * k / 360.0, r = radius * (1.0 + depth * std::cos(9.0 * angle));
    drawn.region.outline.emplace_back(column + r * std::cos(angle), row + r * std::sin(angle));
    corners.emplace_back(drawn.region.outline.back());
    twice_area += r * r * std::numbers::pi / 360.0;
  }
  drawn.region.box = cv::boundingRect(corners);
  drawn.mask = cv::Mat::zeros(drawn.region.box.size(), CV_8UC1);
  cv::fillPoly(drawn.mask,
               std::vector<std::vector<cv::Point>>{corners},
               cv::Scalar(255),
               cv::LINE_8,
               0,
               -drawn.region.box.tl());
  drawn.region.area_px = 0.5 * twice_area;
  drawn.region.ground = 0.2;
  drawn.region.plateau = 0.2 * (1.0 + height);
  drawn.region.flank_sigma_px = kBlur_px;
  drawn.unevenness = 0.02;
  return drawn;
}

SpotMap empty_map() {
  SpotMap map{};
  map.outside = cv::Mat::zeros(kSize_px, kSize_px, CV_8UC1);
  return map;
}

constexpr double kDeep = 0.45;

/// Heights 0.8 to 1.2, of which one in five exceeds 1.1.
std::vector<Outlined> clear_spots(int number) {
  std::vector<Outlined> spots;
  for (int k = 0; k < number; ++k) spots.push_back(region(60.0 + 80.0 * k, 60.0, 12.0, 0.8 + 0.1 * (k % 5)));
  return spots;
}

struct Left {
  std::size_t spots, glare;
  double doubtful_px;
};

/// What becomes of five clear spots, or other ones, and one more region.
Left left_of(std::vector<Outlined> spots, const Outlined& one, FaceState state, const cv::Mat& glare = {}) {
  spots.push_back(one);
  SpotMap map = empty_map();
  const Reflections reflections(glare, state, kPitch, kBlur_px);
  const UsualLooks usual = reflections.part_from(spots, map);
  reflections.mark_doubtful(spots, usual);
  for (const Outlined& spot : spots) map.spots.push_back(spot.region);
  return {spots.size(), map.glare.size(), map.doubtful_area_px()};
}

}  // namespace

// By hand: of r = 1 + d cos(9 a) the area is pi (1 + d^2 / 2), and with d = 0.45 the perimeter is some 18.6.
TEST_CASE("looks: the form factor of a disc is 1, of a ragged region far less", "[segmentation]") {
  CHECK_THAT(form_factor_of(region(100.0, 100.0, 30.0, 1.0).region), WithinAbs(1.0, 1e-3));
  CHECK_THAT(form_factor_of(region(100.0, 100.0, 30.0, 1.0, kDeep).region), WithinAbs(0.13, 0.03));
}

TEST_CASE("looks: points, ragged regions and those at the rim do not say how light a clear spot is",
          "[segmentation]") {
  std::vector<Outlined> spots = clear_spots(5);
  spots.push_back(region(100.0, 300.0, 3.0, 4.0));
  spots.push_back(region(200.0, 300.0, 30.0, 4.0, kDeep));
  spots.push_back(region(300.0, 300.0, 12.0, 4.0));
  spots.back().region.touches_rim = true;
  const UsualLooks usual = usual_looks(spots, 60.0, [](const Outlined&) { return false; });
  CHECK(usual.number == 7);
  CHECK(usual.clear == 5);
  CHECK_THAT(usual.clear_light, WithinAbs(1.1, 1e-9));
}

TEST_CASE("reflection: on a wet face what is far lighter than clear spots is one, a little lighter is none",
          "[segmentation]") {
  // It is a clear one itself, so that one in five exceeds 1.2; by hand: 1.6 times that is 1.92.
  const Left far = left_of(clear_spots(5), region(300.0, 300.0, 20.0, 2.0), FaceState::wet);
  CHECK(far.spots == 5);
  CHECK(far.glare == 1);
  const Left little = left_of(clear_spots(5), region(300.0, 300.0, 20.0, 1.85), FaceState::wet);
  CHECK(little.spots == 6);
  CHECK(little.doubtful_px == 0.0);
  // Four tell no limit.
  CHECK(left_of(clear_spots(3), region(300.0, 300.0, 20.0, 2.0), FaceState::wet).spots == 4);
}

TEST_CASE("reflection: what hugs a broad one is its skirt, but a spot may lie beside a mere point",
          "[segmentation]") {
  std::vector<Outlined> spots = clear_spots(5);
  spots.push_back(region(310.0, 300.0, 4.0, 0.8));
  CHECK(left_of(spots, region(290.0, 300.0, 15.0, 4.0), FaceState::wet).spots == 5);
  CHECK(left_of(spots, region(302.0, 300.0, 3.0, 4.0), FaceState::wet).spots == 6);
}

TEST_CASE("reflection: a ragged one need not be as light, and no lighter than spots it is a doubt",
          "[segmentation]") {
  const Left light = left_of(clear_spots(5), region(300.0, 300.0, 20.0, 1.4, kDeep), FaceState::wet);
  CHECK(light.spots == 5);
  CHECK(light.glare == 1);
  const Left alike = left_of(clear_spots(5), region(300.0, 300.0, 20.0, 1.2, kDeep), FaceState::wet);
  CHECK(alike.spots == 6);
  CHECK(alike.doubtful_px > 1000.0);
  // A disc as light leaves none.
  CHECK(left_of(clear_spots(5), region(300.0, 300.0, 20.0, 1.2), FaceState::wet).doubtful_px == 0.0);
}

TEST_CASE("reflection: what hugs a doubtful one is doubtful with it", "[segmentation]") {
  const Outlined ragged = region(300.0, 300.0, 20.0, 1.0, kDeep);
  std::vector<Outlined> spots = clear_spots(5);
  const double alone_px = left_of(spots, ragged, FaceState::wet).doubtful_px;
  CHECK_THAT(alone_px, WithinAbs(ragged.region.area_px, 1e-9));
  spots.push_back(region(331.0, 300.0, 4.0, 0.9));
  CHECK_THAT(left_of(spots, ragged, FaceState::wet).doubtful_px,
             WithinAbs(alone_px + spots.back().region.area_px, 1e-9));
  spots.push_back(region(400.0, 300.0, 4.0, 0.9));
  CHECK(left_of(spots, ragged, FaceState::wet).doubtful_px < alone_px + 1.5 * spots.back().region.area_px);
}

TEST_CASE("reflection: nothing is taken from a dry face, and on an unstated one the lightest is a doubt",
          "[segmentation]") {
  const Outlined light = region(300.0, 300.0, 20.0, 1.4, kDeep),
                 alike = region(300.0, 300.0, 20.0, 1.2, kDeep);
  const Left dry = left_of(clear_spots(5), light, FaceState::dry);
  CHECK(dry.spots == 6);
  CHECK(dry.doubtful_px == 0.0);
  const Left unstated = left_of(clear_spots(5), light, FaceState::unknown);
  CHECK(unstated.spots == 6);
  CHECK(unstated.doubtful_px > 1000.0);
  CHECK(left_of(clear_spots(5), alike, FaceState::unknown).doubtful_px == 0.0);
  // Glare elsewhere says that the face reflects.
  cv::Mat glare = cv::Mat::zeros(kSize_px, kSize_px, CV_8UC1);
  cv::circle(glare, {500, 500}, 10, cv::Scalar(255), cv::FILLED);
  CHECK(left_of(clear_spots(5), light, FaceState::unknown, glare).spots == 5);
  CHECK(left_of(clear_spots(5), alike, FaceState::unknown, glare).doubtful_px > 1000.0);
}

TEST_CASE("reflection: what glare bounds all around and has no flank of its own lies between glints",
          "[segmentation]") {
  Outlined hole = region(300.0, 300.0, 12.0, 1.0);
  hole.region.flank_sigma_px = 0.5 * kBlur_px;
  cv::Mat around = cv::Mat::zeros(kSize_px, kSize_px, CV_8UC1);
  cv::circle(around, {300, 300}, 24, cv::Scalar(255), cv::FILLED);
  cv::circle(around, {300, 300}, 14, cv::Scalar(0), cv::FILLED);
  cv::Mat half = around.clone();
  half.colRange(0, 300).setTo(0);
  const auto between = [](const cv::Mat& glare, const Outlined& one) {
    return Reflections(glare, FaceState::wet, kPitch, kBlur_px).is_between_glints(one);
  };
  CHECK(between(around, hole));
  CHECK_FALSE(between(half, hole));
  CHECK_FALSE(between({}, hole));
  hole.region.flank_sigma_px = kBlur_px;  // as sharp as the photo: it ends there by itself
  CHECK_FALSE(between(around, hole));
}
