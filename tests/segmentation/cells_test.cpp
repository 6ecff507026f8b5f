#include "drawn_photo.hpp"
#include "segmentation/broken_rim.hpp"
#include "segmentation/colour_step.hpp"
#include "segmentation/local_contrast.hpp"
#include "segmentation/matrix_level.hpp"
#include "segmentation/matrix_noise.hpp"

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

#include <cmath>

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace corefleck;
using namespace corefleck::testing;

namespace {

HalfContrastRegion disc_region(const cv::Size& size, cv::Point at, int radius) {
  cv::Mat whole = cv::Mat::zeros(size, CV_8UC1);
  cv::circle(whole, at, radius, cv::Scalar(255), cv::FILLED);
  HalfContrastRegion region{};
  region.box = cv::boundingRect(whole);
  region.mask = whole(region.box).clone();
  return region;
}

/// `spot` on a disc of 8 cells, `ground` elsewhere; a ramp of colour along x takes red from low to high.
cv::Mat drawn_colour(const cv::Vec3f& spot, float ramp, const cv::Scalar& ground = {0.3, 0.3, 0.3}) {
  cv::Mat colour(60, 60, CV_32FC3, ground);
  cv::circle(
      colour,
      {30, 30},
      8,
      cv::Scalar(static_cast<double>(spot[0]), static_cast<double>(spot[1]), static_cast<double>(spot[2])),
      cv::FILLED);
  for (int y = 0; y < 60; ++y)
    for (int x = 0; x < 60; ++x)
      colour.at<cv::Vec3f>(y, x)[0] *= 1.0F + ramp * static_cast<float>(x - 30) / 30.0F;
  return colour;
}

bool own_colour(const cv::Mat& colour) {
  // Cells of two pixels are the pixels of the half-size colour.
  const cv::Mat blocked = cv::Mat::zeros(colour.size(), CV_8UC1);
  return has_own_colour({colour, 2}, blocked, disc_region(colour.size(), {30, 30}, 8), 0.7, 0.1);
}

}  // namespace

// By hand: the cell (1, 2) of 3 x 3 grid pixels covers columns 3 to 5 and rows 6 to 8, which are columns 1
// and 2 and rows 3 and 4 of the half-size colour.
TEST_CASE("cell colour: the mean of the half-size pixels that the cell touches", "[segmentation]") {
  cv::Mat half = cv::Mat::zeros(8, 8, CV_32FC3);
  half(cv::Rect(1, 3, 2, 2)).setTo(cv::Scalar(0.4, 0.2, 0.1));
  half.at<cv::Vec3f>(4, 2) = {0.8F, 0.6F, 0.5F};
  const cv::Vec3d colour = CellColour{half, 3}.at({1, 2});
  CHECK_THAT(colour[0], WithinAbs(0.5, 1e-6));
  CHECK_THAT(colour[1], WithinAbs(0.3, 1e-6));
  CHECK_THAT(colour[2], WithinAbs(0.2, 1e-6));
  CHECK(CellColour{half, 1}.at({2, 6}) == cv::Vec3d(half.at<cv::Vec3f>(3, 1)));
}

TEST_CASE("colour step: lighter alone is no colour of its own, whiter on sand is", "[segmentation]") {
  CHECK_FALSE(own_colour(drawn_colour({0.5F, 0.5F, 0.5F}, 0.0F)));
  CHECK(own_colour(drawn_colour({0.55F, 0.5F, 0.5F}, 0.0F)));
}

// By hand, IEC 61966-2-1: 0.2, 0.3 and 0.45 have the codes 0.485, 0.584 and 0.701, and codes higher by 0.1
// are 0.301, 0.425 and 0.606. A JPEG makes that of a small place of the same colour that is lighter.
TEST_CASE("colour step: on blue a place that keeps the differences of the codes has none, a white one has",
          "[segmentation]") {
  const cv::Scalar blue(0.2, 0.3, 0.45);
  CHECK_FALSE(own_colour(drawn_colour({0.301F, 0.425F, 0.606F}, 0.0F, blue)));
  CHECK(own_colour(drawn_colour({0.42F, 0.42F, 0.42F}, 0.0F, blue)));
}

TEST_CASE("colour step: a step that the matrix around makes too is none", "[segmentation]") {
  CHECK_FALSE(own_colour(drawn_colour({0.55F, 0.5F, 0.5F}, 0.4F)));
}

TEST_CASE(
    "local contrast: flat matrix is 0, a spot half as light again is 0.5, hollows turn round in the negative",
    "[segmentation]") {
  DrawnFace drawn;
  drawn.noise = 0.0;
  drawn.spots = {{300.0, 300.0, 20.0, 1.5 * kMatrix_Y}};
  const CalibratedFace face = calibrated_face(drawn);
  const MatrixLevel matrix = matrix_level(face, face.outside, Millimetres{0.5});
  const LocalContrast contrast(face, matrix);
  CHECK_THAT(static_cast<double>(contrast.fine({300, 300, 1, 1}, 1.0F).at<float>(0)), WithinAbs(0.5, 0.005));
  CHECK_THAT(static_cast<double>(contrast.fine({300, 300, 1, 1}, -1.0F).at<float>(0)),
             WithinAbs(-0.5, 0.005));
  for (const int factor : {1, 2, 3}) {
    const cv::Mat cells = contrast.coarse(factor);
    CHECK(cells.rows == drawn.size_px / factor);
    CHECK_THAT(static_cast<double>(cells.at<float>(300 / factor, 300 / factor)), WithinAbs(0.5, 0.005));
    CHECK_THAT(static_cast<double>(cells.at<float>(300 / factor, 150 / factor)), WithinAbs(0.0, 0.005));
    CHECK(cells.at<float>(0, 0) == 0.0F);  // beyond the rim
  }
}

// By hand: a mean over f pixels has the variance f^2 / 12 of a Gaussian's.
TEST_CASE("local contrast: the blur of cells is the photo's and the cell's", "[segmentation]") {
  DrawnFace drawn;
  drawn.blur_px = 1.5;
  const CalibratedFace face = calibrated_face(drawn);
  const MatrixLevel matrix = matrix_level(face, face.outside, Millimetres{0.5});
  const LocalContrast contrast(face, matrix);
  CHECK_THAT(contrast.fine_sigma_px(), WithinRel(std::sqrt(1.5 * 1.5 + 0.7 * 0.7), 1e-9));
  CHECK_THAT(contrast.coarse_sigma_cells(3), WithinRel(std::sqrt(1.5 * 1.5 + 9.0 / 12.0) / 3.0, 1e-9));
}

// By hand: Gaussian smoothing of 0.7 px leaves 1 / (2 sqrt(pi) 0.7) of white noise.
TEST_CASE("matrix noise: white noise shows in pixels and hardly in means over a spot", "[segmentation]") {
  DrawnFace drawn;
  drawn.noise = 0.05;
  drawn.spots = {{300.0, 300.0, 60.0, 2.0 * kMatrix_Y}};
  const CalibratedFace face = calibrated_face(drawn);
  const MatrixLevel matrix = matrix_level(face, face.outside, Millimetres{1.0});
  const LocalContrast contrast(face, matrix);
  const cv::Mat cells = contrast.coarse(2);
  cv::Mat blocked;
  cv::resize(face.outside, blocked, cells.size(), 0, 0, cv::INTER_NEAREST);
  const MatrixNoise noise = matrix_noise(contrast, cells, blocked, 2, 10.0);
  CHECK_THAT(noise.pixel, WithinRel(0.05 / (2.0 * std::sqrt(CV_PI) * 0.7), 0.15));
  CHECK(noise.small_spot < 0.01);
}

TEST_CASE("broken rim: dark places at the rim band are left out, hollows inside and crumbs are not",
          "[segmentation]") {
  cv::Mat contrast = cv::Mat::zeros(200, 200, CV_32FC1), blocked(200, 200, CV_8UC1, cv::Scalar(255));
  cv::circle(blocked, {100, 100}, 90, cv::Scalar(0), cv::FILLED);
  cv::circle(contrast, {100, 20}, 20, cv::Scalar(-0.4), cv::FILLED);   // by hand: 0.1 mm cells, about 7 mm2
  cv::circle(contrast, {100, 110}, 20, cv::Scalar(-0.4), cv::FILLED);  // not at the rim
  cv::circle(contrast, {180, 100}, 3, cv::Scalar(-0.4), cv::FILLED);   // 0.3 mm2
  const CoarseFace face{contrast, {cv::Mat(), 1}, blocked, contrast < -0.1F, 0.5, 0.1};
  const cv::Mat broken = broken_rim(face, 0.02);
  CHECK(broken.at<unsigned char>(25, 100) == 255);
  CHECK(broken.at<unsigned char>(110, 100) == 0);
  CHECK(broken.at<unsigned char>(100, 180) == 0);
  contrast.setTo(0.0);
  CHECK(cv::countNonZero(broken_rim({contrast, {cv::Mat(), 1}, blocked, contrast < -0.1F, 0.5, 0.1}, 0.02)) ==
        0);
}

// A tenth of the light lost, or won, over three millimetres makes no edge.
TEST_CASE("broken rim: a face that grows dark or light towards the rim is not broken off there",
          "[segmentation]") {
  const double sign = GENERATE(-1.0, 1.0);
  INFO("sign " << sign);
  cv::Mat contrast = cv::Mat::zeros(400, 400, CV_32FC1), blocked(400, 400, CV_8UC1, cv::Scalar(255));
  cv::circle(blocked, {200, 200}, 180, cv::Scalar(0), cv::FILLED);
  for (int y = 0; y < 110; ++y) contrast.row(y).setTo(sign * 0.1 / 15.0 * (110 - y));
  const CoarseFace soft{contrast, {cv::Mat(), 1}, blocked, contrast < -0.1F, 0.5, 0.2};
  CHECK(cv::countNonZero(broken_rim(soft, 0.02)) == 0);
  contrast.setTo(0.0);
  contrast.rowRange(0, 90).setTo(sign * 0.35);  // as far off on the mean, at an edge
  const CoarseFace sharp{contrast, {cv::Mat(), 1}, blocked, contrast < -0.1F, 0.5, 0.2};
  CHECK(cv::countNonZero(broken_rim(sharp, 0.02)) > 0);
}

// By hand, on 0.2 mm cells and a face of 72 mm: the chord lies 26 mm from the centre and is 50 mm long; a
// spot of plaster cut by the rim is round and of mm size, however light it is.
TEST_CASE(
    "broken rim: a bench lighter than the face is left out beyond its chord, round spots at the rim are not",
    "[segmentation]") {
  cv::Mat contrast = cv::Mat::zeros(400, 400, CV_32FC1), blocked(400, 400, CV_8UC1, cv::Scalar(255));
  cv::circle(blocked, {200, 200}, 180, cv::Scalar(0), cv::FILLED);
  contrast.rowRange(0, 70).setTo(0.5);
  cv::circle(contrast, {360, 240}, 30, cv::Scalar(0.5), cv::FILLED);  // 12 mm wide, cut by the rim
  cv::circle(contrast, {200, 376}, 25, cv::Scalar(0.5), cv::FILLED);  // its middle close to the rim
  cv::circle(contrast, {200, 76}, 4, cv::Scalar(0.5), cv::FILLED);    // 1.6 mm wide, beside the break
  const CoarseFace face{contrast, {cv::Mat(), 1}, blocked, contrast < -0.1F, 0.5, 0.2};
  const cv::Mat broken = broken_rim(face, 0.02);
  CHECK(cv::countNonZero(broken(cv::Rect(150, 30, 100, 38))) == 100 * 38);
  CHECK(cv::countNonZero(broken.rowRange(78, 400)) == 0);
  contrast.rowRange(40, 44).setTo(-0.1);  // a dark line in the bench parts nothing
  CHECK(cv::countNonZero(broken_rim(face, 0.02)(cv::Rect(150, 30, 100, 38))) == 100 * 38);
}

// The same face and cells; the bench beyond the break is dark on the left and light on the right.
TEST_CASE("broken rim: a break over a bench that is dark and light is left out whole", "[segmentation]") {
  cv::Mat contrast = cv::Mat::zeros(400, 400, CV_32FC1), blocked(400, 400, CV_8UC1, cv::Scalar(255));
  cv::circle(blocked, {200, 200}, 180, cv::Scalar(0), cv::FILLED);
  const cv::Rect dark(0, 0, 215, 60), light(215, 0, 185, 60);
  contrast(dark).setTo(-0.5);
  contrast(light).setTo(0.5);
  cv::circle(contrast, {340, 310}, 12, cv::Scalar(0.5), cv::FILLED);  // a spot cut by the rim elsewhere
  const CoarseFace face{contrast, {cv::Mat(), 1}, blocked, contrast < -0.1F, 0.5, 0.2};
  const cv::Mat broken = broken_rim(face, 0.02);
  for (const cv::Rect& part : {cv::Rect(150, 40, 60, 18), cv::Rect(220, 40, 60, 18)})
    CHECK(cv::countNonZero(broken(part)) == part.area());
  CHECK(cv::countNonZero(broken.rowRange(70, 400)) == 0);
}

// The same face and cells; grains of 1 to 2 mm in the fracture, and beside each other at the rim a spot and a
// pit.
TEST_CASE("broken rim: a fracture of dark and light grains is left out whole, a spot beside a pit is not",
          "[segmentation]") {
  cv::RNG random(3);
  cv::Mat contrast = cv::Mat::zeros(400, 400, CV_32FC1), blocked(400, 400, CV_8UC1, cv::Scalar(255));
  cv::circle(blocked, {200, 200}, 180, cv::Scalar(0), cv::FILLED);
  cv::Mat grains(70, 400, CV_32FC1), fracture = contrast.rowRange(0, 70);
  random.fill(grains, cv::RNG::NORMAL, 0.0, 1.0);
  cv::GaussianBlur(grains, grains, {}, 4.0);
  cv::Scalar mean, deviation;
  cv::meanStdDev(grains, mean, deviation);
  grains.convertTo(fracture, CV_32F, 0.3 / deviation[0]);
  cv::circle(contrast, {340, 310}, 12, cv::Scalar(0.5), cv::FILLED);
  cv::circle(contrast, {325, 325}, 5, cv::Scalar(-0.5), cv::FILLED);
  const CoarseFace face{contrast, {cv::Mat(), 1}, blocked, contrast < -0.1F, 0.5, 0.2};
  const cv::Mat broken = broken_rim(face, 0.02);
  CHECK(cv::countNonZero(broken(cv::Rect(150, 40, 100, 25))) == 100 * 25);
  CHECK(cv::countNonZero(broken.rowRange(80, 400)) == 0);
}
