#pragma once

#include "corefleck/error.hpp"

#include <filesystem>
#include <string>
#include <vector>

namespace corefleck {

struct NamedBytes {
  std::string name;
  std::string bytes;
};

/// All to the disk before the first gets its name: a full disk leaves the folder as it was, not half renewed.
/// The folder is made if missing, and removed again if it stays empty.
[[nodiscard]] Result<void> write_files(const std::vector<NamedBytes>& files,
                                       const std::filesystem::path& folder);

}  // namespace corefleck
