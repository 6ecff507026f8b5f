#include "segmentation/deblurring.hpp"

#include "segmentation/half_contrast.hpp"

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

#include <cmath>
#include <numbers>

using Catch::Matchers::WithinRel;
using namespace corefleck;

namespace {

constexpr double kPi = std::numbers::pi;

/// A crisp ellipse of contrast 1 under a Gaussian blur, drawn 20 times finer and sampled at pixel centres.
cv::Mat blurred_ellipse(double half_length, double half_breadth, double turn_deg, double sigma) {
  constexpr int kSize = 61, kFiner = 20;
  const double middle = 0.5 * kSize + 0.23, turn = turn_deg * kPi / 180.0;
  cv::Mat fine(kSize * kFiner, kSize * kFiner, CV_32FC1);
  for (int y = 0; y < fine.rows; ++y)
    for (int x = 0; x < fine.cols; ++x) {
      const double u = (x + 0.5) / kFiner - middle, v = (y + 0.5) / kFiner - middle;
      const double a = (u * std::cos(turn) + v * std::sin(turn)) / half_length;
      const double b = (v * std::cos(turn) - u * std::sin(turn)) / half_breadth;
      fine.at<float>(y, x) = a * a + b * b <= 1.0 ? 1.0F : 0.0F;
    }
  cv::GaussianBlur(fine, fine, {}, sigma * kFiner);
  cv::Mat pixels(kSize, kSize, CV_32FC1);
  for (int y = 0; y < kSize; ++y)
    for (int x = 0; x < kSize; ++x)
      pixels.at<float>(y, x) =
          0.5F * (fine.at<float>(y * kFiner + kFiner / 2, x * kFiner + kFiner / 2) +
                  fine.at<float>(y * kFiner + kFiner / 2 - 1, x * kFiner + kFiner / 2 - 1));
  return pixels;
}

HalfContrastRegion region_in(const cv::Mat& contrast, double sigma) {
  const cv::Mat blocked = cv::Mat::zeros(contrast.size(), CV_8UC1);
  const ContrastField field{contrast, blocked, blocked, sigma, 0.1, contrast.cols};
  const RingOfMatrix ground{0.0F, 0.0, 100};
  auto region = half_contrast_region(field, {contrast.cols / 2, contrast.rows / 2}, 0.5F, &ground);
  REQUIRE(region.has_value());
  return *region;
}

/// Area within half contrast, by counting on a grid ten times finer.
double area_within(const cv::Mat& contrast, float threshold) {
  cv::Mat fine;
  cv::resize(contrast, fine, {}, 10.0, 10.0, cv::INTER_CUBIC);
  return cv::countNonZero(fine > threshold) / 100.0;
}

}  // namespace

// By hand: pi a b.
TEST_CASE("deblurring: round and long spots get their area back, down to two and a half times the blur",
          "[segmentation]") {
  const double sigma = 1.2;
  for (const auto& [half_length, half_breadth] : {std::pair{3.0, 3.0},
                                                  std::pair{4.0, 4.0},
                                                  std::pair{7.0, 7.0},
                                                  std::pair{5.0, 3.2},
                                                  std::pair{9.0, 4.0}}) {
    const cv::Mat contrast = blurred_ellipse(half_length, half_breadth, 25.0, sigma);
    const HalfContrastRegion region = region_in(contrast, sigma);
    const double seen = area_within(contrast, region.threshold);
    const double area = seen * deblurring_ratio(contrast, region, sigma);
    INFO("half axes " << half_length << " " << half_breadth << ", seen off by "
                      << 100.0 * (seen / (kPi * half_length * half_breadth) - 1.0) << " %");
    CHECK_THAT(area, WithinRel(kPi * half_length * half_breadth, 0.02));
  }
}

// By hand: pi a b. Blur as wide as that rounds a long spot, and what its round image says of its area alone
// is 8 to 15 % too much.
TEST_CASE("deblurring: long spots hardly broader than the blur get their area back", "[segmentation]") {
  const double sigma = 2.6;
  for (const auto& [half_length, half_breadth] :
       {std::pair{7.0, 3.5}, std::pair{8.0, 3.0}, std::pair{6.0, 3.0}, std::pair{4.0, 4.0}}) {
    const cv::Mat contrast = blurred_ellipse(half_length, half_breadth, 25.0, sigma);
    const HalfContrastRegion region = region_in(contrast, sigma);
    const double seen = area_within(contrast, region.threshold);
    INFO("half axes " << half_length << " " << half_breadth << ", seen off by "
                      << 100.0 * (seen / (kPi * half_length * half_breadth) - 1.0) << " %");
    CHECK_THAT(seen * deblurring_ratio(contrast, region, sigma),
               WithinRel(kPi * half_length * half_breadth, 0.03));
  }
}

// By hand: blur moves a smooth outline inwards by sigma^2 / 2 over its radius of curvature, which sums to pi
// sigma^2 around any outline.
TEST_CASE("deblurring: a wide spot gets pi sigma^2, whatever its shape", "[segmentation]") {
  const double sigma = 1.0;
  const cv::Mat contrast = blurred_ellipse(16.0, 11.0, 0.0, sigma);
  const HalfContrastRegion region = region_in(contrast, sigma);
  const double area = cv::countNonZero(region.mask);
  CHECK_THAT(deblurring_ratio(contrast, region, sigma), WithinRel(1.0 + kPi / area, 1e-9));
  CHECK_THAT(area_within(contrast, region.threshold) + kPi, WithinRel(kPi * 16.0 * 11.0, 0.005));
}

TEST_CASE("deblurring: hardly any blur changes hardly anything", "[segmentation]") {
  const cv::Mat contrast = blurred_ellipse(4.0, 4.0, 0.0, 0.3);
  CHECK_THAT(deblurring_ratio(contrast, region_in(contrast, 0.3), 1e-3), WithinRel(1.0, 0.03));
}
