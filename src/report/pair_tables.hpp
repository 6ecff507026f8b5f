#pragma once

#include "tables.hpp"

#include "corefleck/pair_report.hpp"

#include <span>

namespace corefleck {

/// The columns of comparison.csv, changes.csv, wetdry.csv and wetdry_spots.csv, in their order.
[[nodiscard]] std::span<const Column<ChangesReport>> comparison_columns();
[[nodiscard]] std::span<const Column<SpotChange>> change_columns();
[[nodiscard]] std::span<const Column<StatesReport>> state_columns();
[[nodiscard]] std::span<const Column<SpotStates>> spot_state_columns();

/// "both", "dry" or "wet": the photos that show a spot.
[[nodiscard]] std::string_view seen_in(const SpotStates& spot);

}  // namespace corefleck
