#include "segmentation/necks.hpp"

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

#include <cmath>

using Catch::Matchers::WithinRel;
using namespace corefleck;

namespace {

/// Two discs of radius 20 whose middles lie 50 px apart, and a bar between them.
cv::Mat dumb_bell(int half_breadth) {
  cv::Mat mask = cv::Mat::zeros(61, 121, CV_8UC1);
  cv::circle(mask, {35, 30}, 20, cv::Scalar(255), cv::FILLED);
  cv::circle(mask, {85, 30}, 20, cv::Scalar(255), cv::FILLED);
  cv::rectangle(mask, {35, 30 - half_breadth}, {85, 30 + half_breadth}, cv::Scalar(255), cv::FILLED);
  return mask;
}

}  // namespace

TEST_CASE("necks: a narrow neck parts, and its pixels go to both alike", "[segmentation]") {
  const cv::Mat mask = dumb_bell(4);
  const Parts parts = part_at_necks(mask, 50.0);
  REQUIRE(parts.doubt_px.size() == 2);
  const int one = cv::countNonZero(parts.labels == 1), two = cv::countNonZero(parts.labels == 2);
  CHECK(one + two == cv::countNonZero(mask));
  CHECK_THAT(one, WithinRel(static_cast<double>(two), 0.02));
  CHECK(parts.doubt_px[0] == 0.0);
  CHECK(parts.doubt_px[1] == 0.0);
}

TEST_CASE("necks: a waist nearly as wide as the spot leaves one, without doubt", "[segmentation]") {
  const Parts parts = part_at_necks(dumb_bell(18), 50.0);
  REQUIRE(parts.doubt_px.size() == 1);
  CHECK(parts.doubt_px[0] == 0.0);
}

// By hand: one of the discs is in doubt, pi 20^2.
TEST_CASE("necks: between neck and waist the doubt is one disc, parted or not", "[segmentation]") {
  for (const int half_breadth : {12, 15}) {
    const Parts parts = part_at_necks(dumb_bell(half_breadth), 50.0);
    INFO("half breadth " << half_breadth << ", parts " << parts.doubt_px.size());
    for (const double doubt : parts.doubt_px) CHECK_THAT(doubt, WithinRel(CV_PI * 400.0, 0.2));
  }
  CHECK(part_at_necks(dumb_bell(12), 50.0).doubt_px.size() == 2);
  CHECK(part_at_necks(dumb_bell(15), 50.0).doubt_px.size() == 1);
}

TEST_CASE("necks: a part below the least area stays with its neighbour", "[segmentation]") {
  CHECK(part_at_necks(dumb_bell(4), 2000.0).doubt_px.size() == 1);
}
