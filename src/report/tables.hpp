#pragma once

#include "cells.hpp"

#include "corefleck/report.hpp"

#include <span>
#include <string_view>

namespace corefleck {

/// The figures of summary.csv, in its order: what a failed row leaves empty.
[[nodiscard]] std::span<const Column<FaceMeasurement>> figure_columns();

/// "dry", "wet" or "unknown".
[[nodiscard]] std::string_view name(FaceState state);

}  // namespace corefleck
