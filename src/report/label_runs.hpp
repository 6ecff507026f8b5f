#pragma once

#include "corefleck/segmentation.hpp"

#include <string>

namespace corefleck {

inline constexpr unsigned kFirstSpotValue = 8;

/// What every pixel of the grid is, as runs, for the report's page: row by row from the top, each row the
/// number of its runs, then for each run the gap before it, its length and its value, all as unsigned LEB128.
/// Value: that of `Outside`, where that is not 0; else kFirstSpotValue + the spot's number. What no run
/// covers is matrix.
[[nodiscard]] std::string label_runs(const SpotMap& spots);

}  // namespace corefleck
