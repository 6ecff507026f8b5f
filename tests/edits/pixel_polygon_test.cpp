#include "edits/pixel_polygon.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace corefleck;

namespace {

const FaceGrid kGrid{MmPerPx{0.1}, 201, 100.0};

double pixel_count(const std::vector<cv::Point2d>& outline) {
  double count = 0.0;
  for (const PixelSpan& span : pixel_spans(outline, kGrid)) count += span.end - span.first;
  return count;
}

std::vector<cv::Point2d> disc(cv::Point2d centre, double radius, int corners) {
  std::vector<cv::Point2d> outline;
  for (int i = 0; i < corners; ++i)
    outline.emplace_back(centre.x + radius * std::cos(2.0 * CV_PI * i / corners),
                         centre.y + radius * std::sin(2.0 * CV_PI * i / corners));
  return outline;
}

}  // namespace

TEST_CASE("pixels of an outline: neighbours along a shared edge share no pixel and miss none", "[edits]") {
  // By hand: 2 by 1 mm about the centre are 20 by 10 pixels, whichever way it is cut in two.
  const double whole = pixel_count({{-1, 0.5}, {1, 0.5}, {1, -0.5}, {-1, -0.5}});
  CHECK(whole == 200.0);
  CHECK(pixel_count({{-1, 0.5}, {1, 0.5}, {1, -0.5}}) + pixel_count({{-1, 0.5}, {1, -0.5}, {-1, -0.5}}) ==
        whole);
}

TEST_CASE("pixels of an outline: turning it round changes nothing", "[edits]") {
  std::vector<cv::Point2d> outline = disc({1.23, -2.34}, 3.3, 31);
  const double count = pixel_count(outline);
  std::reverse(outline.begin(), outline.end());
  CHECK(pixel_count(outline) == count);
}

TEST_CASE("pixels of an outline: a disc has its area", "[edits]") {
  // pi r^2 on 0.01 mm2 a pixel; the scatter of such counts is below a quarter of the perimeter's root here.
  for (const double radius : {2.0, 3.5, 6.0})
    CHECK(pixel_count(disc({0.037, 0.081}, radius, 720)) ==
          Approx(CV_PI * radius * radius * 100.0).epsilon(0.004));
}

TEST_CASE("pixels of an outline: beyond the grid there are none", "[edits]") {
  CHECK(pixel_count({{-1000, 1000}, {1000, 1000}, {1000, -1000}, {-1000, -1000}}) == 201.0 * 201.0);
  CHECK(pixel_count({{50, 50}, {60, 50}, {60, 60}}) == 0.0);
}
