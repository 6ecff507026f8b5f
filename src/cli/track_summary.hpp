#pragma once

#include "terminal.hpp"
#include "track_core.hpp"

#include <filesystem>
#include <string>
#include <vector>

namespace corefleck {

/// One core for reading: its visits, rate, tracks, and what to look at twice. Ends with a line end.
[[nodiscard]] std::string core_summary(const TrackedCore& tracked, const Terminal& terminal);

/// What the run wrote where. Ends with a line end.
[[nodiscard]] std::string growth_files_summary(const std::vector<CoreReport>& cores,
                                               const std::filesystem::path& out);

}  // namespace corefleck
