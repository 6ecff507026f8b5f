#pragma once

#include "terminal.hpp"

#include "corefleck/pair_report.hpp"

#include <filesystem>
#include <string>

namespace corefleck {

/// A compared pair for reading: what changed, how well the faces agree, cautions, where the files are.
[[nodiscard]] std::string changes_summary(const ChangesReport& report,
                                          const std::filesystem::path& out,
                                          const Terminal& terminal);
[[nodiscard]] std::string states_summary(const StatesReport& report,
                                         const std::filesystem::path& out,
                                         const Terminal& terminal);

}  // namespace corefleck
