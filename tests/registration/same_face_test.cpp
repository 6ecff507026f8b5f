#include "drawn_core.hpp"

#include <catch2/catch.hpp>
#include <opencv2/core/utility.hpp>

#include <cmath>

// Faces that the test draws: grains by chance, turned and moved. No photo, no calibration.

using namespace corefleck;
using namespace corefleck::testing;

namespace {

const std::vector<DrawnSpot> kSpots{{10, 4, 3}, {-12, 8, 2}, {2, -15, 4}, {-5, -4, 1.5}, {16, -10, 2.5}};

FaceDetail detail_of(const DrawnCore& wish) {
  const auto photo = drawn_core(wish);
  return face_detail(photo->face, photo->map);
}

Result<Registration> registered(const DrawnCore& first, const DrawnCore& second) {
  return register_faces(detail_of(first), detail_of(second));
}

void check_true(const Result<Registration>& found, const DrawnCore& first, const DrawnCore& second) {
  REQUIRE(found);
  const FaceTransform truth = true_transform(first, second);
  CHECK(std::abs(std::remainder(found->rotation_deg - truth.rotation_deg(), 360.0)) < 0.1);
  for (const cv::Point2d& p :
       {cv::Point2d(0, 0), cv::Point2d(25, 0), cv::Point2d(-15, 20), cv::Point2d(0, -25)})
    CHECK(cv::norm(found->first_to_second(p) - truth(p)) < 0.1);
  CHECK(found->residual_mm < 0.1);
  CHECK(found->score > 0.6);
}

}  // namespace

TEST_CASE("registration: any turn and a small shift are found", "[registration]") {
  const double turn = GENERATE(0.0, 0.3, 37.25, 90.0, 178.9, -140.4);
  const DrawnCore first{.spots = kSpots};
  const DrawnCore second{.turn_deg = turn, .moved_mm = {0.4, -0.3}, .spots = kSpots};
  check_true(registered(first, second), first, second);
}

TEST_CASE("registration: another scale of the photo does not matter", "[registration]") {
  const DrawnCore first{.pitch_mm = 0.06, .spots = kSpots};
  const DrawnCore second{.turn_deg = 71.0, .pitch_mm = 0.14, .spots = kSpots};
  check_true(registered(first, second), first, second);
}

TEST_CASE("registration: wetting, changed spots and a rim broken by a quarter do not matter",
          "[registration]") {
  const DrawnCore first{.spots = kSpots};
  const DrawnCore second{.turn_deg = -60.0,
                         .broken_deg = 90.0,
                         .wet = true,
                         .spots = {{10, 4, 4}, {-12, 8, 1}, {2, -15, 4}, {-18, -12, 3}}};
  check_true(registered(first, second), first, second);
  check_true(registered(second, first), second, first);
}

TEST_CASE("registration: a centre off by more than a millimetre is found all the same", "[registration]") {
  const DrawnCore first{.spots = kSpots};
  const DrawnCore second{.turn_deg = 20.0, .moved_mm = {1.3, 0.2}, .spots = kSpots};
  check_true(registered(first, second), first, second);
}

TEST_CASE(
    "registration: a photo whose scale is misread by 5 % is recognised by its rim, and the stretch says so",
    "[registration]") {
  const auto first = drawn_core({.spots = kSpots}), second = drawn_core({.turn_deg = 80.0, .spots = kSpots});
  second->face.grid.pitch = 1.05 * second->face.grid.pitch;
  second->face.radius = 1.05 * second->face.radius;
  const auto found =
      register_faces(face_detail(first->face, first->map), face_detail(second->face, second->map));
  REQUIRE(found);
  CHECK(found->rotation_deg == Approx(80.0).margin(0.1));
  CHECK(found->stretch_max_pct == Approx(5.0).margin(0.1));
  CHECK(std::sqrt(found->first_to_second.area_ratio()) == Approx(1.05).margin(0.001));
}

TEST_CASE("registration: a face laid onto itself stays where it is", "[registration]") {
  const auto found = registered({.spots = kSpots}, {.spots = kSpots});
  REQUIRE(found);
  CHECK(std::abs(found->rotation_deg) < 0.001);
  CHECK(found->residual_mm < 0.001);
  CHECK(found->score == 1.0);
}

TEST_CASE("registration: another core is refused, and the reason holds the score", "[registration]") {
  const std::uint64_t other = GENERATE(2U, 3U, 4U, 5U);
  const auto found = registered({.spots = kSpots},
                                {.grain_seed = other, .turn_deg = 15.0, .spots = {{3, 3, 3}, {-8, 0, 2}}});
  REQUIRE(!found);
  CHECK(found.error().code == ErrorCode::faces_differ);
  CHECK_THAT(found.error().what, Catch::Matchers::Contains("do not look like the same face (score 0."));
  CHECK(!found.error().hint.empty());
}

TEST_CASE("registration: a mirrored face is refused with that reason", "[registration]") {
  const auto found = registered({.spots = kSpots}, {.turn_deg = 33.0, .mirrored = true, .spots = kSpots});
  REQUIRE(!found);
  CHECK(found.error().code == ErrorCode::faces_mirrored);
  CHECK_THAT(found.error().what, Catch::Matchers::Contains("mirrored"));
}

TEST_CASE("registration: faces without any detail are refused, not laid onto each other by chance",
          "[registration]") {
  const auto found = registered({.grain = 0.0}, {.turn_deg = 40.0, .grain = 0.0});
  REQUIRE(!found);
  CHECK(found.error().code == ErrorCode::faces_differ);
}

TEST_CASE("registration: is the same on any number of threads", "[registration]") {
  const FaceDetail first = detail_of({.spots = kSpots}),
                   second = detail_of({.turn_deg = 12.0, .spots = kSpots});
  const int threads = cv::getNumThreads();
  cv::setNumThreads(1);
  const auto one = register_faces(first, second);
  cv::setNumThreads(2);
  const auto two = register_faces(first, second);
  cv::setNumThreads(threads);
  REQUIRE((one && two));
  CHECK(one->first_to_second.matrix() == two->first_to_second.matrix());
  CHECK(one->residual_mm == two->residual_mm);
}
