#include "number_placement.hpp"

#include <catch2/catch.hpp>

using namespace corefleck;

namespace {

NumberedSpot square_spot(int id, const cv::Rect& box) {
  const cv::Point2d a(box.x, box.y), b(box.x + box.width, box.y + box.height);
  return {id, cv::Rect2d(box), {a, {b.x, a.y}, b, {a.x, b.y}}};
}

struct Scene {
  cv::Mat taken = cv::Mat::zeros(400, 400, CV_8UC1);
  std::vector<NumberedSpot> spots;
  void add(const cv::Rect& box) {
    taken(box) = 255;
    spots.push_back(square_spot(static_cast<int>(spots.size()) + 1, box));
  }
  [[nodiscard]] std::vector<PlacedNumber> placed() const {
    return place_numbers(spots, FreeSpace(taken, {0.0, 0.0}), {{200.0, 200.0}, 200.0, 12.0, 16.0});
  }
};

}  // namespace

TEST_CASE("free space: counts the taken pixels of any box, also over the edge", "[report]") {
  cv::Mat taken = cv::Mat::zeros(10, 10, CV_8UC1);
  taken(cv::Rect(2, 3, 4, 2)) = 7;
  const FreeSpace space(taken, {100.0, 200.0});
  CHECK(space.taken_in({100.0, 200.0, 10.0, 10.0}) == 8);
  CHECK(space.taken_in({104.0, 190.0, 50.0, 50.0}) == 4);
  CHECK(space.is_free(cv::Rect2d(106.0, 200.0, 4.0, 10.0)));
  CHECK_FALSE(space.is_free(cv::Point2d(103.0, 204.0)));
}

TEST_CASE("numbers: a spot with room has its number to the right, without a leader", "[report]") {
  Scene scene;
  scene.add({190, 190, 20, 20});
  const auto placed = scene.placed();
  REQUIRE(placed.size() == 1);
  CHECK(placed[0].box.x >= 210.0);
  CHECK_FALSE(placed[0].leader);
}

TEST_CASE("numbers: none lies on a spot, on another number or outside the face", "[report]") {
  Scene scene;
  for (int row = 0; row < 8; ++row)
    for (int column = 0; column < 8; ++column) scene.add({70 + 34 * column, 70 + 34 * row, 14, 14});
  const auto placed = scene.placed();
  CHECK(placed.size() > 20);
  for (const auto& number : placed) {
    CHECK(cv::countNonZero(scene.taken(cv::Rect(number.box))) == 0);
    CHECK(cv::norm(cv::Point2d(number.box.x, number.box.y) - cv::Point2d(200.0, 200.0)) < 200.0);
    for (const auto& other : placed)
      if (other.id != number.id) CHECK((other.box & number.box).area() == 0.0);
  }
}

TEST_CASE("numbers: a spot hemmed in gets its number farther off, on a leader that crosses no spot",
          "[report]") {
  Scene scene;
  scene.add({195, 195, 10, 10});
  // Posts round it that leave gaps too narrow for a number.
  for (const auto& post : {cv::Rect(212, 180, 30, 10),
                           cv::Rect(212, 211, 30, 10),
                           cv::Rect(158, 180, 30, 10),
                           cv::Rect(158, 211, 30, 10)})
    scene.taken(post) = 255;
  const auto placed = scene.placed();
  REQUIRE(placed.size() == 1);
  CHECK(cv::countNonZero(scene.taken(cv::Rect(placed[0].box))) == 0);
  REQUIRE(placed[0].leader);
}

TEST_CASE("numbers: where nothing fits, nothing is written", "[report]") {
  Scene scene;
  scene.add({195, 195, 10, 10});
  scene.taken = 255;
  CHECK(scene.placed().empty());
}
