#include "published_table.hpp"

#include "corefleck/colorimetry.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>

using Catch::Matchers::WithinAbs;
using corefleck::ciede2000;
using corefleck::Lab;

// Sharma, Wu, Dalal 2005, Color Res. Appl. 30(1) 21-30, Table 1, all 34 pairs, printed to four decimals. The
// hues of pair 10 differ by exactly 180 degrees, where one rounding of atan2 changes dE00 from 7.1792
// to 7.2195: kept on purpose.
TEST_CASE("CIEDE2000: every published pair is met to the printed digits, in both orders", "[colorimetry]") {
  const auto pairs = published_table("ciede2000_sharma2005_table1.csv");
  REQUIRE(pairs.size() == 34);
  for (const auto& pair : pairs) {
    const Lab first{pair["L1"], pair["a1"], pair["b1"]}, second{pair["L2"], pair["a2"], pair["b2"]};
    INFO("pair " << pair.text("pair"));
    CHECK_THAT(ciede2000(first, second), WithinAbs(pair["dE00"], 0.00005 + 1e-9));
    CHECK_THAT(ciede2000(second, first), WithinAbs(ciede2000(first, second), 1e-12));
  }
}

TEST_CASE("CIEDE2000: a colour does not differ from itself, and greys differ by their weighted lightness",
          "[colorimetry]") {
  for (const Lab& colour : {Lab{0, 0, 0}, Lab{50, 0, 0}, Lab{100, 0, 0}, Lab{60, -34, 36}, Lab{23, 20, -47}})
    CHECK(ciede2000(colour, colour) == 0.0);
  // By hand: L 45 and 55 have mean 50, where SL = 1.
  CHECK_THAT(ciede2000({45, 0, 0}, {55, 0, 0}), WithinAbs(10.0, 1e-12));
  // By hand: L 60 and 80 have mean 70, SL = 1 + 0.015 400 / sqrt(420).
  CHECK_THAT(ciede2000({60, 0, 0}, {80, 0, 0}), WithinAbs(20.0 / (1.0 + 6.0 / std::sqrt(420.0)), 1e-12));
}

TEST_CASE("CIEDE2000: half a turn of hue stays in the branch of the plain mean, however atan2 rounds",
          "[colorimetry]") {
  // Property: at exactly 180 degrees the difference is the limit from below, whichever of the two hues is the
  // larger.
  const auto at = [](double hue_deg) {
    const double t = hue_deg * std::numbers::pi / 180.0;
    return Lab{50.0, 20.0 * std::cos(t), 20.0 * std::sin(t)};
  };
  for (int hue_deg = 0; hue_deg < 180; ++hue_deg) {
    const Lab first = at(hue_deg), opposite{50.0, -first.a, -first.b},
              just_below = at(hue_deg + 180.0 - 1e-6);
    INFO("hue " << hue_deg);
    CHECK_THAT(ciede2000(first, opposite), WithinAbs(ciede2000(first, just_below), 1e-5));
    CHECK_THAT(ciede2000(opposite, first), WithinAbs(ciede2000(first, opposite), 1e-12));
  }
}
