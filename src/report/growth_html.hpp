#pragma once

#include "corefleck/growth_report.hpp"

#include <string>
#include <vector>

namespace corefleck {

/// report.html of `track`: each core's growth, visits and tracks, to read in a browser and to print.
[[nodiscard]] std::string growth_html(const std::vector<CoreReport>& cores, const RecordContext& context);

}  // namespace corefleck
