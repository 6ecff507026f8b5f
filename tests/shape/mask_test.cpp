#include "drawn_mask.hpp"
#include "published_table.hpp"

#include "corefleck/shape.hpp"

#include <catch2/catch.hpp>

#include <functional>
#include <map>
#include <random>
#include <string>

using Catch::Matchers::WithinAbs;
using namespace corefleck;

namespace {

cv::Mat drawn_shape(const std::string& name) {
  const auto either = [](const auto& one, const auto& other) {
    return [=](double x, double y) { return one(x, y) || other(x, y); };
  };
  const auto box = [](double x0, double x1, double y0, double y1) {
    return [=](double x, double y) { return x0 <= x && x <= x1 && y0 <= y && y <= y1; };
  };
  const Disc hole{30, 30, 10}, round{30, 30, 25};
  const std::map<std::string, std::function<cv::Mat()>> shapes{
      {"disc_r5",
       [] {
         return drawn_mask(21, 21, Disc{10, 10, 5});
       }},
      {"disc_r10",
       [] {
         return drawn_mask(31, 31, Disc{15, 15, 10});
       }},
      {"disc_r25", [&] { return drawn_mask(61, 61, round); }},
      {"disc_r60",
       [] {
         return drawn_mask(131, 131, Disc{65, 65, 60});
       }},
      {"disc_r10.3_offgrid",
       [] {
         return drawn_mask(41, 41, Disc{20.5, 20.25, 10.3});
       }},
      {"ellipse_40.3_20.2_0",
       [] {
         return drawn_mask(101, 61, Ellipse{{50, 30, 0}, 40.3, 20.2});
       }},
      {"ellipse_40.2_20.3_30",
       [] {
         return drawn_mask(101, 81, Ellipse{{50, 40, 30}, 40.2, 20.3});
       }},
      {"ellipse_45.2_9.3_75",
       [] {
         return drawn_mask(61, 121, Ellipse{{30, 60, 75}, 45.2, 9.3});
       }},
      {"square_41_0",
       [] {
         return drawn_mask(61, 61, Rectangle{{30, 30, 0}, 20, 20});
       }},
      {"square_39.4_30",
       [] {
         return drawn_mask(81, 81, Rectangle{{40, 40, 30}, 19.7, 19.7});
       }},
      {"square_40.6_45",
       [] {
         return drawn_mask(81, 81, Rectangle{{40, 40, 45}, 20.3, 20.3});
       }},
      {"rect_61x21_0",
       [] {
         return drawn_mask(81, 41, Rectangle{{40, 20, 0}, 30, 10});
       }},
      {"annulus_25_10",
       [&] { return drawn_mask(61, 61, [&](double x, double y) { return round(x, y) && !hole(x, y); }); }},
      {"annulus_25_10_filled", [&] { return drawn_mask(61, 61, round); }},
      {"two_discs_15_at_20",
       [&] {
         return drawn_mask(71, 51, either(Disc{25, 25, 15}, Disc{45, 25, 15}));
       }},
      {"L_40_10", [&] { return drawn_mask(61, 61, either(box(10, 19, 10, 49), box(10, 49, 40, 49))); }},
      {"one_pixel", [&] { return drawn_mask(5, 5, box(2, 2, 2, 2)); }},
  };
  return shapes.at(name)();
}

}  // namespace

// Crofton: scikit-image 0.19.3, perimeter_crofton(mask, 4). The others: calipers and hull of the pixels'
// corners by a separate program. All to six decimals.
TEST_CASE("mask: 17 drawn shapes are measured to the printed digits", "[shape]") {
  const auto shapes = published_table("drawn_shapes.csv");
  REQUIRE(shapes.size() == 17);
  constexpr double kPrinted = 0.5e-6 + 1e-9;
  for (const auto& shape : shapes) {
    INFO(shape.text("shape"));
    const cv::Mat mask = drawn_shape(shape.text("shape"));
    REQUIRE(cv::countNonZero(mask) == shape["area_px"]);
    CHECK_THAT(crofton_perimeter(mask), WithinAbs(shape["perimeter_crofton4"], kPrinted));
    CHECK_THAT(corner_solidity(mask), WithinAbs(shape["solidity_corner_hull"], kPrinted));
    const Polygon hull = convex_hull(corner_points(mask));
    const FeretDiameters feret = feret_diameters(hull);
    CHECK_THAT(feret.max, WithinAbs(shape["feret_max_corners"], kPrinted));
    CHECK_THAT(feret.min, WithinAbs(shape["feret_min_corners"], kPrinted));
    CHECK_THAT(polygon_perimeter(hull), WithinAbs(shape["hull_perimeter_corners"], kPrinted));
  }
}

// Cauchy-Crofton formula. By hand: a 3 x 2 block has 2 runs along rows, 3 along columns, and width + height -
// 1 = 4 along either diagonal.
TEST_CASE("mask: Crofton perimeter of a block by hand, also where it touches the edge of the mask",
          "[shape]") {
  const double expected = CV_PI / 4.0 * (2 + 3 + (4 + 4) / std::sqrt(2.0));
  cv::Mat inside(6, 7, CV_8UC1, cv::Scalar{0});
  inside(cv::Rect(2, 2, 3, 2)) = 1;
  CHECK_THAT(crofton_perimeter(inside), WithinAbs(expected, 1e-12));
  CHECK_THAT(crofton_perimeter(cv::Mat(2, 3, CV_8UC1, cv::Scalar{255})), WithinAbs(expected, 1e-12));
  // A part of a larger mask ends at its own edge.
  cv::Mat full(9, 9, CV_8UC1, cv::Scalar{255});
  CHECK_THAT(crofton_perimeter(full(cv::Rect(3, 4, 3, 2))), WithinAbs(expected, 1e-12));
  CHECK(crofton_perimeter(cv::Mat(4, 4, CV_8UC1, cv::Scalar{0})) == 0.0);
}

// Simulated by a separate program, 2000 discs a row: bias and scatter of ours agree with its own, and from
// radius 10 the perimeter is unbiased to 0.1 %.
TEST_CASE("mask: Crofton perimeter of discs at random places is unbiased", "[shape]") {
  constexpr int kDiscs = 2000;
  std::mt19937_64 random(20240229);
  std::uniform_real_distribution<double> jitter(-0.5, 0.5);
  for (const auto& row : published_table("disc_crofton_random.csv")) {
    const double r = row["r"];
    const int size = 2 * static_cast<int>(r) + 11;
    double sum = 0.0, sum_of_squares = 0.0;
    for (int i = 0; i < kDiscs; ++i) {
      const Disc disc{size / 2.0 + jitter(random), size / 2.0 + jitter(random), r + jitter(random)};
      const double deviation_pct =
          100.0 * (crofton_perimeter(drawn_mask(size, size, disc)) / (2.0 * CV_PI * disc.r) - 1.0);
      sum += deviation_pct;
      sum_of_squares += deviation_pct * deviation_pct;
    }
    const double bias_pct = sum / kDiscs, sd_pct = std::sqrt(sum_of_squares / kDiscs - bias_pct * bias_pct);
    INFO("r " << r << ": bias " << bias_pct << " %, scatter " << sd_pct << " %");
    // Four standard errors of the difference of two such means, and the rounding to two decimals.
    CHECK_THAT(bias_pct,
               WithinAbs(row["perimeter_bias_pct"], 4.0 * sd_pct * std::sqrt(2.0 / kDiscs) + 0.005));
    CHECK_THAT(sd_pct, WithinAbs(row["perimeter_sd_pct"], 4.0 * sd_pct * std::sqrt(1.0 / kDiscs) + 0.005));
    if (r >= 10.0) CHECK_THAT(bias_pct, WithinAbs(0.0, 0.1));
    if (r >= 15.0) CHECK_THAT(bias_pct, WithinAbs(0.0, 4.0 * sd_pct / std::sqrt(1.0 * kDiscs) + 0.01));
  }
}

TEST_CASE("mask: perimeter, calipers and solidity do not change under quarter turns and mirroring",
          "[shape]") {
  const cv::Mat mask = drawn_shape("ellipse_40.2_20.3_30");
  const FeretDiameters feret = feret_diameters(convex_hull(corner_points(mask)));
  cv::Mat turned, mirrored;
  cv::rotate(mask, turned, cv::ROTATE_90_CLOCKWISE);
  cv::flip(mask, mirrored, 0);
  for (const cv::Mat& other : {turned, mirrored}) {
    const FeretDiameters other_feret = feret_diameters(convex_hull(corner_points(other)));
    CHECK_THAT(crofton_perimeter(other), WithinAbs(crofton_perimeter(mask), 1e-12));
    CHECK_THAT(corner_solidity(other), WithinAbs(corner_solidity(mask), 1e-12));
    CHECK_THAT(other_feret.max, WithinAbs(feret.max, 1e-12));
    CHECK_THAT(other_feret.min, WithinAbs(feret.min, 1e-12));
  }
}

TEST_CASE("mask: the hull of the outermost corners of each row is the hull of all corners", "[shape]") {
  std::mt19937_64 random(3);
  for (int trial = 0; trial < 50; ++trial) {
    cv::Mat mask(12, 15, CV_8UC1, cv::Scalar{0});
    std::vector<cv::Point2d> all;
    for (int i = 0; i < 20; ++i) {
      const int x = static_cast<int>(random() % 15), y = static_cast<int>(random() % 12);
      mask.at<uchar>(y, x) = 1;
      for (const double dx : {-0.5, 0.5})
        for (const double dy : {-0.5, 0.5}) all.emplace_back(x + dx, y + dy);
    }
    CHECK(convex_hull(corner_points(mask)) == convex_hull(all));
  }
}

TEST_CASE("mask: an empty mask has no corners", "[shape]") {
  CHECK(corner_points(cv::Mat(4, 4, CV_8UC1, cv::Scalar{0})).empty());
  CHECK(crofton_perimeter(cv::Mat(0, 0, CV_8UC1)) == 0.0);
}
