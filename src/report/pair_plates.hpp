#pragma once

#include "laid_pair.hpp"

#include "corefleck/pair_report.hpp"

#include <string>

namespace corefleck {

/// Bytes of changes.png: before, after and what changed between them, in register.
[[nodiscard]] Result<std::string> changes_png(const ChangesReport& report,
                                              const LaidPair& pair,
                                              const RecordContext& context);

/// Bytes of wetdry.png: dry and wet in register and on one scale of lightness, and each spot's contrast in
/// both.
[[nodiscard]] Result<std::string> wetdry_png(const StatesReport& report,
                                             const LaidPair& pair,
                                             const RecordContext& context);

}  // namespace corefleck
