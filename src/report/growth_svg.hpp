#pragma once

#include "record_parts.hpp"

#include "corefleck/growth_report.hpp"

#include <span>

namespace corefleck {

/// Area fraction against date as growth_plot.mustache draws it: axes, each core's line with its interval,
/// each visit with its own. `cores` holds at least one, and every one has a line.
[[nodiscard]] Json growth_svg(std::span<const CoreReport> cores);

}  // namespace corefleck
