#include "segmentation/half_contrast.hpp"

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

using Catch::Matchers::WithinAbs;
using namespace corefleck;

namespace {

struct Drawn {
  cv::Mat contrast = cv::Mat::zeros(121, 121, CV_32FC1);
  cv::Mat blocked = cv::Mat::zeros(121, 121, CV_8UC1);
  cv::Mat busy = cv::Mat::zeros(121, 121, CV_8UC1);
  double pitch_mm = 0.1;

  void disc(cv::Point at, int radius, double value) {
    cv::circle(contrast, at, radius, cv::Scalar(value), cv::FILLED);
  }
  [[nodiscard]] ContrastField field() const { return {contrast, blocked, busy, 0.5, pitch_mm, 60}; }
};

}  // namespace

TEST_CASE("half contrast: threshold midway between plateau and ground, from wherever the search starts",
          "[segmentation]") {
  Drawn drawn;
  drawn.contrast.setTo(0.1);
  drawn.disc({60, 60}, 12, 0.5);
  for (const float start : {0.12F, 0.3F, 0.48F}) {
    const auto region = half_contrast_region(drawn.field(), {60, 60}, start);
    REQUIRE(region.has_value());
    CHECK_THAT(static_cast<double>(region->plateau), WithinAbs(0.5, 1e-6));
    CHECK_THAT(static_cast<double>(region->ground), WithinAbs(0.1, 1e-6));
    CHECK_THAT(static_cast<double>(region->threshold), WithinAbs(0.3, 1e-6));
    CHECK(cv::countNonZero(region->mask) == cv::countNonZero(drawn.contrast > 0.3F));
  }
}

TEST_CASE("half contrast: a known ground is taken as it is", "[segmentation]") {
  Drawn drawn;
  drawn.disc({60, 60}, 12, 0.5);
  const RingOfMatrix known{0.2F, 0.03, 77};
  const auto region = half_contrast_region(drawn.field(), {60, 60}, 0.3F, &known);
  REQUIRE(region.has_value());
  CHECK_THAT(static_cast<double>(region->threshold), WithinAbs(0.35, 1e-6));
  CHECK(region->spread_ground == 0.03);
  CHECK(region->ground_px == 77);
}

// By hand: holes up to 0.2 mm2 are filled, which is 20 px here; the plus has 5 px, the disc 81.
TEST_CASE("half contrast: small dark grains are filled, a hollow is not", "[segmentation]") {
  Drawn drawn;
  drawn.disc({60, 60}, 20, 0.5);
  const int whole = cv::countNonZero(drawn.contrast > 0.25F);
  drawn.disc({52, 60}, 1, 0.0);
  drawn.disc({66, 60}, 5, 0.0);
  const auto region = half_contrast_region(drawn.field(), {60, 70}, 0.25F);
  REQUIRE(region.has_value());
  CHECK(region->mask.at<unsigned char>(cv::Point(52, 60) - region->box.tl()) != 0);
  CHECK(region->mask.at<unsigned char>(cv::Point(66, 60) - region->box.tl()) == 0);
  CHECK(cv::countNonZero(region->mask) == whole - 81);
}

TEST_CASE("half contrast: what is blocked is not entered, and what runs away is nothing", "[segmentation]") {
  Drawn drawn;
  drawn.disc({60, 60}, 12, 0.5);
  drawn.blocked(cv::Rect(60, 0, 61, 121)).setTo(255);
  const auto half = half_contrast_region(drawn.field(), {55, 60}, 0.25F);
  REQUIRE(half.has_value());
  CHECK(half->box.br().x == 60);
  CHECK_FALSE(half_contrast_region(drawn.field(), {65, 60}, 0.25F).has_value());

  Drawn stripe;
  stripe.contrast.colRange(50, 70).setTo(0.5);
  ContrastField field = stripe.field();
  field.largest_px = 30;
  CHECK_FALSE(half_contrast_region(field, {60, 60}, 0.25F).has_value());
}
