#include "corefleck/calibration.hpp"

#include <catch2/catch.hpp>

#include <string>
#include <vector>

using namespace corefleck;

TEST_CASE("calibration settings: the defaults have no fault", "[calibration]") {
  CHECK(CalibrationSettings{}.faults().empty());
}

TEST_CASE("calibration settings: the limits of the contract themselves are allowed", "[calibration]") {
  CalibrationSettings settings;
  settings.card_reflectance = 1.0;
  settings.bar_blocks = 2;
  settings.rim_band = Millimetres{0.0};
  settings.bar_tolerance_pct = 0.0;
  CHECK(settings.faults().empty());
  settings.bar_blocks = 100;
  CHECK(settings.faults().empty());
}

// Wording by the style guide: name, value, violated constraint.
TEST_CASE("calibration settings: each fault names the setting, its value and what it must be",
          "[calibration]") {
  struct Case {
    CalibrationSettings settings;
    std::string fault;
  };
  std::vector<Case> cases(12);
  cases[0].settings.card_reflectance = 1.4;
  cases[0].fault = "card_reflectance = 1.4; must be above 0 and at most 1";
  cases[1].settings.card_reflectance = 0.0;
  cases[1].fault = "card_reflectance = 0; must be above 0 and at most 1";
  cases[2].settings.bar_length = Millimetres{-50.0};
  cases[2].fault = "bar_length_mm = -50; must be above 0 and at most 10000";
  cases[3].settings.bar_blocks = 1;
  cases[3].fault = "bar_blocks = 1; must be from 2 to 100";
  cases[4].settings.bar_blocks = 101;
  cases[4].fault = "bar_blocks = 101; must be from 2 to 100";
  cases[5].settings.bar_tolerance_pct = -1.0;
  cases[5].fault = "bar_tolerance_pct = -1; must be from 0 to 10";
  cases[6].settings.bar_height = Millimetres{-0.5};
  cases[6].fault = "bar_height_mm = -0.5; must be from 0 to 1000";
  cases[7].settings.rim_band = Millimetres{-2.0};
  cases[7].fault = "rim_band_mm = -2; must be from 0 to 100";
  cases[8].settings.core_diameter = Millimetres{0.0};
  cases[8].fault = "core_diameter_mm = 0; must be above 0";
  cases[9].settings.core_at = PixelCircle{10.0, 10.0, -3.0};
  cases[9].fault = "core_at radius = -3; must be above 0";
  cases[10].settings.card_at = PixelBox{10.0, 10.0, 0.0, 5.0};
  cases[10].fault = "card_at size = 0 x 5; both must be above 0";
  cases[11].settings.bar_ends = PixelSegment{4.0, 4.0, 4.0, 4.0};
  cases[11].fault = "bar_ends = one point; the two ends must differ";
  for (const Case& c : cases) {
    INFO(c.fault);
    const auto faults = c.settings.faults();
    REQUIRE(faults.size() == 1);
    CHECK(faults.front() == c.fault);
  }
}

TEST_CASE("calibration settings: every fault is told, not only the first", "[calibration]") {
  CalibrationSettings settings;
  settings.card_reflectance = -0.18;
  settings.bar_blocks = 0;
  settings.rim_band = Millimetres{-1.0};
  CHECK(settings.faults().size() == 3);
}

TEST_CASE("calibration settings: numbers that are not numbers are faults", "[calibration]") {
  CalibrationSettings settings;
  settings.card_reflectance = std::stod("nan");
  settings.bar_length = Millimetres{std::stod("nan")};
  settings.core_at = PixelCircle{std::stod("nan"), 5.0, 5.0};
  CHECK(settings.faults().size() == 3);
  CalibrationSettings ends;
  ends.bar_ends = PixelSegment{std::stod("nan"), 0.0, 5.0, 5.0};
  CHECK(ends.faults().size() == 1);
}

TEST_CASE("calibration settings: a card box at a place that is not a number is a fault", "[calibration]") {
  CalibrationSettings settings;
  settings.card_at = PixelBox{std::stod("nan"), 0.0, 5.0, 5.0};
  CHECK(settings.faults().size() == 1);
}
