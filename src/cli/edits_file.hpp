#pragma once

#include "shared_options.hpp"

#include "corefleck/edits.hpp"

namespace corefleck {

/// Reads the file after --edits, if there is one, into `options.edits`. An error names the file.
[[nodiscard]] Result<SharedOptions> with_edits_file(SharedOptions options);

}  // namespace corefleck
