#include "segmentation/rough_ground.hpp"

#include "segmentation/candidates.hpp"

#include <catch2/catch.hpp>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <vector>

using namespace corefleck;

namespace {

constexpr int kFace = 600, kPatch = 100;  // cells
constexpr double kLeast = 0.06;

RoughGround ground_of(const std::vector<PlacedRegion>& regions) {
  return {regions, cv::Mat(kFace, kFace, CV_8UC1, cv::Scalar(255)), kLeast, kPatch};
}

/// Ten regions in each patch but the last, as high as told, and ten there.
std::vector<PlacedRegion> mottle(double elsewhere, double in_last) {
  std::vector<PlacedRegion> regions;
  for (int y = 0; y < kFace / kPatch; ++y)
    for (int x = 0; x < kFace / kPatch; ++x)
      for (int i = 0; i < 10; ++i) {
        const bool last = x == kFace / kPatch - 1 && y == x;
        regions.push_back({{x * kPatch + 5 * i, y * kPatch + 50}, {{20.0, last ? in_last : elsewhere}, 1.0}});
      }
  return regions;
}

}  // namespace

TEST_CASE("rough ground: a patch with mottle far above the others' is rough, the others are not",
          "[segmentation]") {
  const RoughGround ground = ground_of(mottle(0.08, 0.4));
  CHECK(ground.holds({550, 550}));
  CHECK_FALSE(ground.holds({450, 550}));
  CHECK_FALSE(ground.holds({50, 50}));
}

TEST_CASE("rough ground: high mottle all over, or twice as high in one place, is none", "[segmentation]") {
  CHECK_FALSE(ground_of(mottle(0.4, 0.4)).holds({550, 550}));
  CHECK_FALSE(ground_of(mottle(0.1, 0.2)).holds({550, 550}));
  CHECK_FALSE(RoughGround().holds({550, 550}));
}

TEST_CASE(
    "rough ground: a face too smooth to have mottle is what the one patch that has some is held against",
    "[segmentation]") {
  std::vector<PlacedRegion> regions = mottle(0.08, 0.4);
  std::erase_if(regions, [](const PlacedRegion& one) { return one.region.height < 0.4; });
  const RoughGround ground = ground_of(regions);
  CHECK(ground.holds({550, 550}));
  CHECK_FALSE(ground.holds({50, 50}));
}

// Gravel of deviation 0.4 on one part of the face, and twelve spots of 0.35 away from it.
TEST_CASE("rough ground: spots on smooth ground are found beside it", "[segmentation]") {
  cv::RNG random(5);
  cv::Mat contrast(kFace, kFace, CV_32FC1), gravel(180, 180, CV_32FC1);
  random.fill(contrast, cv::RNG::NORMAL, 0.0, 0.01);
  random.fill(gravel, cv::RNG::NORMAL, 0.0, 1.0);
  cv::GaussianBlur(gravel, gravel, {}, 3.0);
  cv::Scalar mean, deviation;
  cv::meanStdDev(gravel, mean, deviation);
  contrast(cv::Rect(380, 380, 180, 180)) += 0.4 / deviation[0] * gravel;
  for (int i = 0; i < 12; ++i)
    cv::circle(contrast, {60 + 90 * (i % 6), 60 + 120 * (i / 6)}, 7, cv::Scalar(0.35), cv::FILLED);
  const CoarseFace face{
      contrast, {cv::Mat(), 1}, cv::Mat::zeros(kFace, kFace, CV_8UC1), contrast < -0.1F, 0.5, 0.1};
  const CoarseSpots found = find_candidates(face, {0.06F, 8.0, 0.01, 0.01, 200.0});
  CHECK(std::count_if(found.spots.begin(), found.spots.end(), [](const Candidate& spot) {
          return spot.seed.y < 300;
        }) == 12);
}
