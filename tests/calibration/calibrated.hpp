#pragma once

#include "drawn_photo.hpp"

#include "corefleck/calibration.hpp"

#include <catch2/catch.hpp>

#include <string>
#include <utility>

namespace corefleck::testing {

/// The drawn scene's face; the test ends with the reason if it cannot be calibrated.
inline CalibratedFace calibrated(const DrawnScene& scene, const CalibrationSettings& settings = {}) {
  auto face = calibrate(drawn_photo(scene), settings);
  INFO((face ? std::string("calibrated") : face.error().what));
  REQUIRE(face.has_value());
  return *std::move(face);
}

}  // namespace corefleck::testing
