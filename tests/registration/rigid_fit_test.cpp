#include "registration/rigid_fit.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace corefleck;

namespace {

double angle_deg(const FaceTransform& transform) {
  return std::atan2(transform.linear(1, 0), transform.linear(0, 0)) * 180.0 / CV_PI;
}

void check_same(const FaceTransform& a, const FaceTransform& b, double within) {
  for (const cv::Point2d& p : {cv::Point2d(0, 0), cv::Point2d(40, -10), cv::Point2d(-25, 31)})
    CHECK(cv::norm(a(p) - b(p)) < within);
}

std::vector<PlacePair> mapped(const FaceTransform& transform) {
  std::vector<PlacePair> pairs;
  for (int x = -40; x <= 40; x += 10)
    for (int y = -40; y <= 40; y += 10) pairs.push_back({cv::Point2d(x, y), transform(cv::Point2d(x, y))});
  return pairs;
}

}  // namespace

// Umeyama 1991, IEEE PAMI 13(4) 376-380, the example in section III: rotation (0.832 0.555; -0.555 0.832),
// printed to three digits. The shift without the paper's scale is by hand: (-1/3, 2/3) - R (1/3, 2/3).
TEST_CASE("rigid fit: the published example's rotation is met to the printed digits", "[registration]") {
  const FaceTransform fit = rigid_fit({{{0, 0}, {0, 0}}, {{1, 0}, {-1, 0}}, {{0, 2}, {0, 2}}});
  CHECK(fit.linear(0, 0) == Approx(0.832).margin(0.0005));
  CHECK(fit.linear(0, 1) == Approx(0.555).margin(0.0005));
  CHECK(fit.linear(1, 0) == Approx(-0.555).margin(0.0005));
  CHECK(fit.linear(1, 1) == Approx(0.832).margin(0.0005));
  CHECK(fit.shift_mm[0] == Approx(-1.0 / 3.0 - 0.832050 / 3.0 - 0.554700 * 2.0 / 3.0).margin(1e-5));
  CHECK(fit.shift_mm[1] == Approx(2.0 / 3.0 + 0.554700 / 3.0 - 0.832050 * 2.0 / 3.0).margin(1e-5));
}

// By numpy 1.24's SVD (Kabsch) and, to the same digits, scikit-image's EuclideanTransform.
TEST_CASE("rigid fit: scattered places give what a singular value decomposition gives", "[registration]") {
  const std::vector<PlacePair> pairs{{{10.01, 31.78}, {14.62, -31.55}},
                                     {{22.05, -21.98}, {-30.85, -0.46}},
                                     {{-15.99, 29.88}, {32.29, -12.46}},
                                     {{-39.58, 25.7}, {46.97, 6.77}},
                                     {{23.77, -2.57}, {-18.33, -15.56}},
                                     {{-15.76, -17.73}, {-0.37, 22.29}},
                                     {{-19.61, -4.39}, {12.25, 15.29}},
                                     {{0.36, 4.28}, {3.01, -4.8}}};
  const FaceTransform fit = rigid_fit(pairs);
  CHECK(angle_deg(fit) == Approx(-137.0809136410691).margin(1e-9));
  CHECK(fit.rotation_deg() == Approx(-137.0809136410691).margin(1e-9));
  CHECK(fit.shift_mm[0] == Approx(0.43987826).margin(1e-7));
  CHECK(fit.shift_mm[1] == Approx(-1.40140923).margin(1e-7));
}

TEST_CASE("fits: each model gives back a map of its own kind", "[registration]") {
  const FaceTransform affine{{0.9, -0.45, 0.44, 0.91}, {1.5, -0.7}, {0, 0}};
  check_same(affine_fit(mapped(affine)), affine, 1e-9);
  const FaceTransform projective{{0.9, -0.45, 0.44, 0.91}, {1.5, -0.7}, {4e-4, -2e-4}};
  check_same(projective_fit(mapped(projective)), projective, 1e-6);
}

TEST_CASE("fits: places on a line tell no stretch, so the rigid map is given", "[registration]") {
  const std::vector<PlacePair> line{{{0, 0}, {0, 0}}, {{1, 0}, {0, 1}}, {{2, 0}, {0, 2}}};
  CHECK(affine_fit(line).rotation_deg() == Approx(90.0));
  CHECK(affine_fit(line).area_ratio() == Approx(1.0));
}

TEST_CASE("transform: the inverse leads back, and areas at a place are those of a small square there",
          "[registration]") {
  const FaceTransform map{{0.9, -0.45, 0.44, 0.91}, {1.5, -0.7}, {4e-4, -2e-4}};
  const cv::Point2d p(12.0, -31.0);
  CHECK(cv::norm(map.inverse()(map(p)) - p) < 1e-9);
  constexpr double kStep = 1e-3;
  const cv::Point2d x = map(p + cv::Point2d(kStep, 0)) - map(p), y = map(p + cv::Point2d(0, kStep)) - map(p);
  CHECK(map.area_ratio(p) == Approx(x.cross(y) / (kStep * kStep)).epsilon(1e-4));
}

TEST_CASE("transform: a half turn is +180 degrees", "[registration]") {
  CHECK(FaceTransform{{-1.0, 0.0, 0.0, -1.0}, {0, 0}, {0, 0}}.rotation_deg() == 180.0);
  CHECK(FaceTransform{{-1.0, 0.0, -0.0, -1.0}, {0, 0}, {0, 0}}.rotation_deg() == 180.0);
}
