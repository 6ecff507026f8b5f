#pragma once

#include "cli/program.hpp"

#include <nlohmann/json.hpp>

#include <string>

namespace corefleck::testing {

/// An edits file for the photo and the face of a record.
inline nlohmann::json edits_for(const nlohmann::json& record, nlohmann::json list) {
  return {{"format", "corefleck edits"},
          {"version", 1},
          {"photo_sha256", record.at("input").at("sha256")},
          {"grid_mm_per_px", record.at("calibration").at("rectified_grid").at("mm_per_px")},
          {"grid_size_px", record.at("calibration").at("rectified_grid").at("size_px")},
          {"edits", std::move(list)}};
}

/// Strikes the spot of a row of spots.csv.
inline nlohmann::json strike(const Row& spot) {
  return {{"edit", "strike"},
          {"spot_id", std::stoi(spot.at("spot_id"))},
          {"x_mm", std::stod(spot.at("x_mm"))},
          {"y_mm", std::stod(spot.at("y_mm"))},
          {"reason", "a grain of sand"},
          {"initials", "AB"}};
}

}  // namespace corefleck::testing
