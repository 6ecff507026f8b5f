#pragma once

#include "shared_options.hpp"

#include "corefleck/error.hpp"

#include <filesystem>

namespace corefleck {

/// Sets options from a TOML file whose keys are the option names without dashes in front ("card-reflectance";
/// an underscore does for a dash). A path in it is relative to the file. Fails with bad_setting: unreadable,
/// not TOML, unknown key, wrong type, impossible value; `what` names the file and the key.
[[nodiscard]] Result<void> apply_setup_file(const std::filesystem::path& path, SharedOptions& options);

}  // namespace corefleck
