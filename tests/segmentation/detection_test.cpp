#include "drawn_photo.hpp"

#include "corefleck/clipping.hpp"
#include "corefleck/segmentation.hpp"

#include <catch2/catch.hpp>
#include <opencv2/core.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace corefleck;
using namespace corefleck::testing;

namespace {

SpotMap spots_of(const CalibratedFace& face, double min_spot_mm = 0.5) {
  SegmentationSettings settings;
  settings.min_spot = Millimetres{min_spot_mm};
  auto map = find_spots(face, settings);
  REQUIRE(map.has_value());
  return *std::move(map);
}

SpotMap wet_spots_of(const DrawnFace& drawn) {
  SegmentationSettings settings;
  settings.state = FaceState::wet;
  auto map = find_spots(calibrated_face(drawn), settings);
  REQUIRE(map.has_value());
  return *std::move(map);
}

// Points of light 5 px apart, a pixel across and too weak to clip: blurred together they pass for light
// places.
void add_swarm(DrawnFace& drawn, double column, double row, int across) {
  for (int j = 0; j < across; ++j)
    for (int i = 0; i < across; ++i) drawn.spots.push_back({column + 5.0 * i, row + 5.0 * j, 1.2, 0.6});
}

SpotMap spots_of(const DrawnFace& drawn, double min_spot_mm = 0.5) {
  return spots_of(calibrated_face(drawn), min_spot_mm);
}

}  // namespace

TEST_CASE("segmentation settings: an impossible smallest spot is told by name, value and constraint",
          "[segmentation]") {
  SegmentationSettings settings;
  CHECK(settings.faults().empty());
  settings.min_spot = Millimetres{0.0};
  CHECK(settings.faults() == std::vector<std::string>{"min_spot_mm = 0; must be above 0 and at most 100"});
  settings.min_spot = Millimetres{std::stod("nan")};
  CHECK(settings.faults().size() == 1);
}

TEST_CASE("detection: mottle and grain alone are no spots, in ten draws", "[segmentation]") {
  int spots = 0;
  for (unsigned seed = 1; seed <= 10; ++seed) {
    DrawnFace drawn;
    drawn.mottle = 0.03;
    drawn.mottle_px = seed % 2 == 0 ? 3.0 : 8.0;
    drawn.noise = 0.02;
    drawn.seed = seed;
    spots += static_cast<int>(spots_of(drawn).spots.size());
  }
  CHECK(spots == 0);
}

// A comb of 9 teeth on both sides, of a fifth more light than the matrix, or of twice as much.
TEST_CASE("detection: a ragged region hardly lighter than the face is its mottle, a round one is a spot",
          "[segmentation]") {
  const bool hardly_lighter = GENERATE(true, false);
  DrawnFace drawn;
  const double Y = (hardly_lighter ? 1.22 : 2.0) * drawn.matrix_Y;
  drawn.spots = {{420.0, 300.0, 14.0, Y}};
  for (int i = 0; i <= 96; ++i) drawn.spots.push_back({150.0 + i, 250.0, 7.0, Y});
  for (int tooth = 0; tooth < 9; ++tooth)
    for (int i = -20; i <= 20; ++i) drawn.spots.push_back({150.0 + 12.0 * tooth, 250.0 + i, 3.0, Y});
  const SpotMap map = spots_of(drawn);
  CHECK(map.labels.at<int>(300, 420) > 0);
  CHECK((map.labels.at<int>(250, 198) > 0) == !hardly_lighter);
  CHECK((map.faint_area_px > 1000.0) == hardly_lighter);
}

// Seven beads on a string, a fifth lighter than the matrix, which are parted: each is round, the string as a
// whole is ragged. Its flanks are of 5 px, or crisp.
TEST_CASE("detection: the parts of a soft ragged region hardly lighter than the face are its mottle, too",
          "[segmentation]") {
  const int rings = GENERATE(1, 5);
  DrawnFace drawn;
  const double more = 0.22 * drawn.matrix_Y;
  drawn.spots = {{420.0, 400.0, 14.0, drawn.matrix_Y + more}};
  for (int ring = 1; ring <= rings; ++ring) {
    const double Y = drawn.matrix_Y + more * ring / rings, wider = 0.5 * (rings + 1) - ring;
    for (int bead = 0; bead < 7; ++bead) drawn.spots.push_back({170.0 + 22.0 * bead, 250.0, 10.0 + wider, Y});
    for (int i = 0; i <= 132; ++i) drawn.spots.push_back({170.0 + i, 250.0, 2.5 + 0.5 * wider, Y});
  }
  const SpotMap map = spots_of(drawn);
  CHECK(map.labels.at<int>(400, 420) > 0);
  CHECK(map.spots.size() == (rings == 1 ? 8 : 1));
}

// The comb above, of a quarter more light: a spot beside three round ones, mottle where it is alone.
TEST_CASE("detection: a ragged region that is alone must be lighter by a quarter of what is asked",
          "[segmentation]") {
  const bool alone = GENERATE(true, false);
  DrawnFace drawn;
  const double Y = 1.26 * drawn.matrix_Y;
  if (!alone) drawn.spots = {{420.0, 300.0, 14.0, Y}, {420.0, 400.0, 14.0, Y}, {420.0, 200.0, 14.0, Y}};
  for (int i = 0; i <= 96; ++i) drawn.spots.push_back({150.0 + i, 250.0, 7.0, Y});
  for (int tooth = 0; tooth < 9; ++tooth)
    for (int i = -20; i <= 20; ++i) drawn.spots.push_back({150.0 + 12.0 * tooth, 250.0 + i, 3.0, Y});
  CHECK((spots_of(drawn).labels.at<int>(250, 198) > 0) == !alone);
}

TEST_CASE("detection: the same mottle hides no spot of clear contrast", "[segmentation]") {
  DrawnFace drawn;
  drawn.mottle = 0.03;
  drawn.noise = 0.02;
  for (int k = 0; k < 8; ++k)
    drawn.spots.push_back({300.0 + 180.0 * std::cos(k * std::numbers::pi / 4.0),
                           300.0 + 180.0 * std::sin(k * std::numbers::pi / 4.0),
                           8.0,
                           1.6 * kMatrix_Y});
  CHECK(spots_of(drawn).spots.size() == 8);
}

TEST_CASE("detection: spots smaller than the limit are left out", "[segmentation]") {
  DrawnFace drawn;
  drawn.spots = {{200.0, 300.0, 9.0, 0.5}, {400.0, 300.0, 4.5, 0.5}};  // by hand: ECD 1.8 and 0.9 mm
  CHECK(spots_of(drawn, 0.5).spots.size() == 2);
  const SpotMap larger = spots_of(drawn, 1.2);
  REQUIRE(larger.spots.size() == 1);
  CHECK_THAT(larger.spots[0].box.x + 0.5 * (larger.spots[0].box.width - 1), WithinAbs(200.0, 2.0));
}

TEST_CASE("detection: labels, order and boxes agree with the list of spots", "[segmentation]") {
  DrawnFace drawn;
  drawn.spots = {{200.0, 300.0, 6.0, 0.5}, {400.0, 300.0, 14.0, 0.5}, {300.0, 420.0, 9.0, 0.45}};
  const SpotMap map = spots_of(drawn);
  REQUIRE(map.spots.size() == 3);
  for (std::size_t i = 0; i < 3; ++i) {
    const Region& spot = map.spots[i];
    CHECK(spot.id == static_cast<int>(i) + 1);
    if (i > 0) CHECK(map.spots[i - 1].area_px >= spot.area_px);
    const cv::Mat mine = map.labels == spot.id;
    CHECK_THAT(cv::countNonZero(mine), WithinRel(spot.area_px, 0.12));
    CHECK(cv::countNonZero(mine) == cv::countNonZero(mine(spot.box)));
    CHECK(spot.u_area_px > 0.0);
    CHECK_THAT(spot.ground, WithinRel(kMatrix_Y, 0.02));
    CHECK_THAT(spot.threshold, WithinRel(0.5 * (spot.ground + spot.plateau), 1e-6));
    CHECK_FALSE(spot.touches_rim);
  }
}

TEST_CASE("detection: two discs joined by a narrow neck are two spots, by a wide one they are one",
          "[segmentation]") {
  DrawnFace drawn;
  drawn.spots = {{270.0, 300.0, 24.0, 0.5}, {330.0, 300.0, 24.0, 0.5}};
  SECTION("a neck of a fifth of their breadth") {
    drawn.necks = {{300.0, 300.0, 12.0, 4.8, 0.5}};
    const SpotMap map = spots_of(drawn);
    REQUIRE(map.spots.size() == 2);
    // By hand: pi 24^2 and a few tens of pixels of neck each.
    for (const Region& spot : map.spots)
      CHECK_THAT(spot.area_px, WithinRel(std::numbers::pi * 24.0 * 24.0, 0.06));
  }
  SECTION("a neck of four fifths of their breadth") {
    drawn.necks = {{300.0, 300.0, 20.0, 19.2, 0.5}};
    CHECK(spots_of(drawn).spots.size() == 1);
  }
}

TEST_CASE("detection: a glint that clips is glare and not a spot, and leaves the measured area",
          "[segmentation]") {
  DrawnFace drawn;
  drawn.spots = {{220.0, 300.0, 10.0, 3.0}, {400.0, 300.0, 12.0, 0.5}};
  const SpotMap map = spots_of(drawn);
  CHECK(map.spots.size() == 1);
  CHECK(map.glare.size() == 1);
  CHECK(map.glare_area_px > std::numbers::pi * 100.0);
  CHECK(map.outside.at<unsigned char>(300, 220) == static_cast<unsigned char>(Outside::glare));
  CHECK(map.outside.at<unsigned char>(300, 400) == 0);
  CHECK_THAT(map.measured_area_px, WithinAbs(cv::countNonZero(map.outside == 0), 0.5));
}

// White spots of 0.95 under light of a colour: only a reflection is as light where nothing can be read.
TEST_CASE("detection: a white spot that clips in one channel is no glare, unless the face is wet",
          "[segmentation]") {
  DrawnFace drawn;
  drawn.spots = {{220.0, 300.0, 20.0, 0.95}};
  CalibratedFace face = calibrated_face(drawn);
  const cv::Mat spot = face.luminance > 0.5F;
  SegmentationSettings settings;
  const auto spots = [&](Clipping clipping, FaceState state) {
    face.clipped.setTo(static_cast<unsigned char>(clipping), spot);
    settings.state = state;
    const auto map = find_spots(face, settings);
    REQUIRE(map.has_value());
    return map->spots.size();
  };
  CHECK(spots(Clipping::colour, FaceState::dry) == 1);
  CHECK(spots(Clipping::luminance, FaceState::dry) == 0);
  CHECK(spots(Clipping::colour, FaceState::wet) == 0);
}

// Spots of height 1; the skirt's is 2.4, as high as nothing but a reflection there, and 1.2 that of a spot.
TEST_CASE("detection: the skirt of a glint is glare, and a spot beside one stays a spot", "[segmentation]") {
  DrawnFace drawn;
  for (const double row : {150.0, 250.0, 350.0}) drawn.spots.push_back({420.0, row, 12.0, 0.5});
  drawn.spots.push_back({208.0, 200.0, 18.0, 0.85});
  drawn.spots.push_back({196.0, 200.0, 10.0, 3.0});
  drawn.spots.push_back({208.0, 400.0, 18.0, 0.55});
  drawn.spots.push_back({196.0, 400.0, 10.0, 3.0});
  const SpotMap map = spots_of(drawn);
  CHECK(map.spots.size() == 4);
  CHECK(map.outside.at<unsigned char>(200, 220) == static_cast<unsigned char>(Outside::glare));
  CHECK(map.labels.at<int>(400, 220) > 0);
}

TEST_CASE("detection: a swarm of weak glints on a wet face is glare where others clip, and no spot",
          "[segmentation]") {
  DrawnFace drawn;
  drawn.blur_px = 1.2;
  drawn.spots = {{420.0, 150.0, 12.0, 0.5}, {420.0, 300.0, 12.0, 0.5}, {420.0, 450.0, 12.0, 0.5}};
  drawn.spots.push_back({180.0, 430.0, 6.0, 3.0});
  add_swarm(drawn, 180.0, 200.0, 4);
  const SpotMap map = wet_spots_of(drawn);
  CHECK(map.spots.size() == 3);
  CHECK(map.outside.at<unsigned char>(205, 185) == static_cast<unsigned char>(Outside::glare));
}

// Spots of height 0.7, and one of 6 that does not clip, with a skirt of 0.9.
TEST_CASE("detection: on a wet face one far lighter than dozens is a reflection, with its skirt",
          "[segmentation]") {
  DrawnFace drawn;
  drawn.matrix_Y = 0.06;
  for (double row = 180.0; row < 420.0; row += 60.0)
    for (double column = 150.0; column < 500.0; column += 60.0)
      drawn.spots.push_back({column, row, 8.0, 0.10});
  drawn.spots.push_back({300.0, 100.0, 16.0, 0.114});
  drawn.spots.push_back({300.0, 100.0, 12.0, 0.42});
  const SpotMap wet = wet_spots_of(drawn), unstated = spots_of(drawn);
  CHECK(wet.spots.size() == 24);
  CHECK(wet.outside.at<unsigned char>(100, 300) == static_cast<unsigned char>(Outside::glare));
  CHECK(unstated.labels.at<int>(100, 300) > 0);
}

TEST_CASE("detection: a small spot beside a glint keeps its own flank and stays a spot", "[segmentation]") {
  DrawnFace drawn;
  drawn.blur_px = 1.5;
  drawn.spots = {{420.0, 150.0, 12.0, 0.5}, {420.0, 300.0, 12.0, 0.5}, {420.0, 450.0, 12.0, 0.5}};
  drawn.spots.push_back({180.0, 300.0, 5.0, 3.0});
  drawn.spots.push_back({198.0, 300.0, 3.8, 0.5});
  const SpotMap map = wet_spots_of(drawn);
  CHECK(map.spots.size() == 4);
  CHECK(map.labels.at<int>(300, 199) > 0);
}

// 400 glints of ten times the matrix: what they blur into must not pass for the matrix's own mottle.
TEST_CASE("detection: a film of glints leaves the mottle what it is", "[segmentation]") {
  DrawnFace drawn;
  drawn.mottle = 0.03;
  const double without = wet_spots_of(drawn).mottle_rel;
  for (double row = 110.0; row < 500.0; row += 20.0)
    for (double column = 110.0; column < 500.0; column += 20.0)
      drawn.spots.push_back({column, row, 2.0, 3.0});
  CHECK_THAT(wet_spots_of(drawn).mottle_rel, WithinRel(without, 0.15));
}

TEST_CASE("detection: a piece broken off the rim is left out and said, a chip only left out",
          "[segmentation]") {
  const double radius_px = GENERATE(60.0, 14.0);
  DrawnFace drawn;
  drawn.spots = {{420.0, 300.0, 12.0, 0.5}, {300.0, 30.0, radius_px, 0.03}};
  const SpotMap map = spots_of(drawn);
  CHECK(map.spots.size() == 1);
  const bool said = std::any_of(map.cautions.begin(), map.cautions.end(), [](const Caution& caution) {
    return caution.kind == CautionKind::rim_incomplete;
  });
  CHECK(said == (radius_px == 60.0));  // by hand: some 2 % of the face, and 0.1 %
}

TEST_CASE("detection: a pit is not a spot, nor its light flank", "[segmentation]") {
  DrawnFace drawn;
  drawn.spots = {{220.0, 300.0, 10.0, 0.06}, {400.0, 300.0, 12.0, 0.5}};
  const SpotMap map = spots_of(drawn);
  CHECK(map.spots.size() == 1);
  REQUIRE(map.pits.size() == 1);
  CHECK_THAT(map.pits[0].area_px, WithinRel(std::numbers::pi * 100.0, 0.05));
  CHECK(map.pits[0].plateau < map.pits[0].ground);
  CHECK(map.pit_mask.at<unsigned char>(300, 220) == 255);
  CHECK(map.pit_mask.at<unsigned char>(300, 400) == 0);
}

TEST_CASE("detection: a spot across the rim band is flagged", "[segmentation]") {
  DrawnFace drawn;
  const double inner_px = 0.5 * (drawn.size_px - 1) - 3.0 - 10.0;  // the rim band is 1 mm, 10 px
  drawn.spots = {{300.0 + inner_px - 2.0, 300.0, 12.0, 0.5}, {300.0, 300.0, 12.0, 0.5}};
  const SpotMap map = spots_of(drawn);
  REQUIRE(map.spots.size() == 2);
  CHECK_FALSE(map.spots[0].touches_rim);
  CHECK(map.spots[1].touches_rim);
}

// Half a disc along the rim whose light varies from place to place, by as much above as below.
TEST_CASE("detection: what lies broadly along the rim and is rougher than the spots is a chip",
          "[segmentation]") {
  const bool rough = GENERATE(false, true);
  DrawnFace drawn;
  drawn.mottle = 0.02;
  drawn.mottle_px = 3.0;
  const double inner_px = 0.5 * (drawn.size_px - 1) - 3.0 - 10.0, rim = 300.0 + inner_px, Y = 0.5;
  for (int k = 0; k < 6; ++k) drawn.spots.push_back({200.0 + 40.0 * k, 220.0, 14.0, Y});
  drawn.spots.push_back({rim, 300.0, 16.0, Y});
  constexpr double off = 0.05;
  for (int j = -3; rough && j <= 3; ++j)
    for (int i = 0; i < 5; ++i)
      drawn.spots.push_back({rim - 4.0 * i, 300.0 + 4.0 * j, 2.2, (i + j) % 2 == 0 ? Y + off : Y - off});
  CHECK((spots_of(drawn).labels.at<int>(300, static_cast<int>(rim) - 8) > 0) == !rough);
}

// No figure of such a face can be right.
TEST_CASE("detection: a face that clips all over is refused or cautioned about", "[segmentation]") {
  DrawnFace drawn;
  drawn.spots = {{300.0, 300.0, 290.0, 2.0}};
  const auto map = find_spots(calibrated_face(drawn), {});
  CHECK((!map.has_value() || !map->cautions.empty()));
}

TEST_CASE("detection: quarter turns and a mirror keep the count and each area", "[segmentation]") {
  DrawnFace drawn;
  drawn.mottle = 0.02;
  drawn.spots = {{200.0, 310.0, 6.0, 0.5},
                 {400.0, 250.0, 14.0, 0.5},
                 {300.0, 420.0, 9.0, 0.45},
                 {350.0, 330.0, 20.0, 0.4},
                 {250.0, 180.0, 7.5, 0.38}};
  drawn.necks = {{200.0, 450.0, 18.0, 7.0, 0.45}};
  const CalibratedFace face = calibrated_face(drawn);
  const SpotMap reference = spots_of(face);
  REQUIRE(reference.spots.size() == 6);
  for (int turn = 0; turn < 4; ++turn) {
    CalibratedFace other = face;
    for (cv::Mat* layer : {&other.luminance, &other.colour, &other.clipped, &other.outside}) {
      *layer = layer->clone();
      if (turn < 3)
        cv::rotate(*layer, *layer, turn);  // ROTATE_90_CLOCKWISE, ROTATE_180, ROTATE_90_COUNTERCLOCKWISE
      else
        cv::flip(*layer, *layer, 1);
    }
    const SpotMap map = spots_of(other);
    INFO("turn " << turn);
    REQUIRE(map.spots.size() == 6);
    for (std::size_t i = 0; i < 6; ++i)
      CHECK_THAT(map.spots[i].area_px, WithinRel(reference.spots[i].area_px, 0.005));
  }
}

TEST_CASE("detection: a face twice as bright has the same spots", "[segmentation]") {
  DrawnFace drawn;
  drawn.matrix_Y = 0.15;
  drawn.spots = {{200.0, 300.0, 8.0, 0.27}, {400.0, 300.0, 14.0, 0.24}};
  const CalibratedFace face = calibrated_face(drawn);
  CalibratedFace bright = face;
  bright.luminance = face.luminance * 2.0;
  const SpotMap one = spots_of(face), two = spots_of(bright);
  REQUIRE(one.spots.size() == 2);
  REQUIRE(two.spots.size() == 2);
  for (std::size_t i = 0; i < 2; ++i) CHECK_THAT(two.spots[i].area_px, WithinRel(one.spots[i].area_px, 1e-4));
}

TEST_CASE("detection: the calibrated face is left as it was, and a second run gives the same",
          "[segmentation]") {
  DrawnFace drawn;
  drawn.spots = {{300.0, 300.0, 10.0, 0.5}, {400.0, 300.0, 10.0, 2.0}};
  const CalibratedFace face = calibrated_face(drawn);
  const cv::Mat luminance = face.luminance.clone(), outside = face.outside.clone();
  const SpotMap one = spots_of(face), two = spots_of(face);
  CHECK(cv::norm(face.luminance, luminance, cv::NORM_INF) == 0.0);
  CHECK(cv::norm(face.outside, outside, cv::NORM_INF) == 0.0);
  CHECK(cv::norm(one.labels, two.labels, cv::NORM_INF) == 0.0);
  REQUIRE(one.spots.size() == 1);
  CHECK(one.spots[0].area_px == two.spots[0].area_px);
}
