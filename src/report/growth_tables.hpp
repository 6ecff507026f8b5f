#pragma once

#include "record_parts.hpp"
#include "tables.hpp"

#include "corefleck/growth_report.hpp"

#include <span>
#include <vector>

namespace corefleck {

/// The columns of growth.csv, in their order.
[[nodiscard]] std::span<const Column<CoreReport>> growth_columns();
/// tracks.csv as the scripts of a page read it.
[[nodiscard]] Json tracks_json(const std::vector<CoreReport>& cores);

}  // namespace corefleck
