#include "published_table.hpp"

#include "corefleck/colorimetry.hpp"

#include <catch2/catch.hpp>
#include <opencv2/core.hpp>

#include <array>
#include <cmath>

using Catch::Matchers::WithinAbs;
using namespace corefleck;

TEST_CASE("lightness: the computed table of ISO/CIE 11664-4 and IEC 61966-2-1 is met both ways",
          "[colorimetry]") {
  for (const auto& row : published_table("lightness.csv")) {
    INFO("Y " << row.text("Y"));
    CHECK_THAT(lightness(row["Y"]).number(), WithinAbs(row["L_star"], 0.6e-6));
    CHECK_THAT(relative_luminance(Lightness{row["L_star"]}), WithinAbs(row["Y"], 1e-7));
    CHECK_THAT(linear_to_srgb(row["Y"]), WithinAbs(row["sRGB_encoded"], 0.6e-6));
  }
}

TEST_CASE("lightness: both branches give 8 where they meet, black is 0 and white is 100", "[colorimetry]") {
  // By hand: (216/24389)^(1/3) = 6/29, 116 6/29 - 16 = 8; 24389/27 216/24389 = 8.
  constexpr double meeting = 216.0 / 24389.0;
  CHECK_THAT(lightness(meeting).number(), WithinAbs(8.0, 1e-13));
  CHECK_THAT(lightness(std::nextafter(meeting, 1.0)).number(), WithinAbs(8.0, 1e-13));
  CHECK(lightness(0.0).number() == 0.0);
  CHECK_THAT(lightness(1.0).number(), WithinAbs(100.0, 1e-13));
}

TEST_CASE("lightness: the inverse gives back the luminance", "[colorimetry]") {
  for (int i = 0; i <= 1200; ++i)
    CHECK_THAT(relative_luminance(lightness(i / 1000.0)), WithinAbs(i / 1000.0, 1e-14));
}

TEST_CASE("sRGB: decoding and encoding undo each other for every 8-bit code", "[colorimetry]") {
  for (int code = 0; code <= 255; ++code)
    CHECK_THAT(linear_to_srgb(srgb_to_linear(code / 255.0)) * 255.0, WithinAbs(code, 2e-5));
}

TEST_CASE("L*a*b*: the computed table of sRGB triplets is met to the printed digits", "[colorimetry]") {
  for (const auto& row : published_table("srgb_lab.csv")) {
    INFO("RGB " << row.text("R") << " " << row.text("G") << " " << row.text("B"));
    const std::array<double, 3> linear{
        srgb_to_linear(row["R"] / 255.0), srgb_to_linear(row["G"] / 255.0), srgb_to_linear(row["B"] / 255.0)};
    CHECK_THAT(linear[0], WithinAbs(row["lin_R"], 0.51e-8));
    CHECK_THAT(linear[1], WithinAbs(row["lin_G"], 0.51e-8));
    CHECK_THAT(linear[2], WithinAbs(row["lin_B"], 0.51e-8));
    // That program's matrix has all its digits, ours seven: 1e-7 in XYZ, which is 1e-4 in L* at the steepest.
    const auto xyz = xyz_of_linear_srgb(linear);
    CHECK_THAT(xyz[0], WithinAbs(row["X"], 0.65e-6));
    CHECK_THAT(xyz[1], WithinAbs(row["Y"], 0.65e-6));
    CHECK_THAT(xyz[2], WithinAbs(row["Z"], 0.65e-6));
    const Lab lab = lab_of_linear_srgb(linear);
    CHECK_THAT(lab.L, WithinAbs(row["L"], 0.00015));
    CHECK_THAT(lab.a, WithinAbs(row["a"], 0.00015));
    CHECK_THAT(lab.b, WithinAbs(row["b"], 0.00015));
  }
}

// IEC 61966-2-1: primaries x, y of ITU-R BT.709. The columns of the matrix are the primaries' XYZ, each
// scaled so that together they give the white.
TEST_CASE("sRGB to XYZ: the matrix is that of the primaries and the white, to seven digits",
          "[colorimetry]") {
  const auto xyz_of_chromaticity = [](double x, double y) {
    return cv::Vec3d{x / y, 1.0, (1.0 - x - y) / y};
  };
  const std::array<cv::Vec3d, 3> primaries{
      xyz_of_chromaticity(0.64, 0.33), xyz_of_chromaticity(0.30, 0.60), xyz_of_chromaticity(0.15, 0.06)};
  cv::Matx33d columns;
  for (int c = 0; c < 3; ++c)
    for (int r = 0; r < 3; ++r) columns(r, c) = primaries[static_cast<std::size_t>(c)][r];
  const cv::Vec3d scale = columns.inv() * cv::Vec3d{0.95047, 1.0, 1.08883};
  for (int c = 0; c < 3; ++c) {
    std::array<double, 3> rgb{0.0, 0.0, 0.0};
    rgb[static_cast<std::size_t>(c)] = 1.0;
    const auto xyz = xyz_of_linear_srgb(rgb);
    for (int r = 0; r < 3; ++r)
      CHECK_THAT(xyz[static_cast<std::size_t>(r)], WithinAbs(columns(r, c) * scale[c], 0.51e-7));
  }
}

// Computed from the formulas: L* 70 on L* 50 has Y 0.40749 and 0.18419, contrast 1.2124.
TEST_CASE("Weber contrast: L* 70 on L* 50 is 1.2124", "[colorimetry]") {
  const double spot = relative_luminance(Lightness{70.0}), ground = relative_luminance(Lightness{50.0});
  CHECK_THAT(spot, WithinAbs(0.40749, 0.000005));
  CHECK_THAT(ground, WithinAbs(0.18419, 0.000005));
  CHECK_THAT(weber_contrast(spot, ground), WithinAbs(1.2124, 0.00005));
  CHECK(weber_contrast(ground, ground) == 0.0);
  CHECK(weber_contrast(0.0, ground) == -1.0);
}
