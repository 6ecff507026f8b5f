#pragma once

#include "corefleck/report.hpp"

#include <nlohmann/json.hpp>

#include <string_view>

namespace corefleck {

using Json = nlohmann::ordered_json;

/// A number to ten significant digits, or null.
[[nodiscard]] Json json_number(double value);
[[nodiscard]] Json json_number(const std::optional<double>& value);
/// Text of whatever bytes as valid UTF-8; null when empty.
[[nodiscard]] Json json_text(std::string_view bytes);

/// What was found where, and how the photo became a face: ellipse, bar, card, pose, light, grid.
[[nodiscard]] Json json_of(const CalibratedFace& face);
/// How the spots were told from the matrix, and each one's threshold.
[[nodiscard]] Json json_of(const SpotMap& spots);
[[nodiscard]] Json json_of(const UncertaintyBudget& budget);
[[nodiscard]] Json json_of(const Caution& caution);

}  // namespace corefleck
