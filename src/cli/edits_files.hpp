#pragma once

#include "corefleck/edits.hpp"

#include <filesystem>
#include <memory>
#include <vector>

namespace corefleck {

/// Reads the files after --edits and gives each to the photo that it was made for: one element a photo, null
/// where there are no edits of it. An error names the file: one that cannot be used, that belongs to none of
/// the photos, or that is the second one of a photo.
[[nodiscard]] Result<std::vector<std::shared_ptr<const Edits>>> edits_of_photos(
    const std::vector<std::filesystem::path>& files, const std::vector<std::filesystem::path>& photos);

}  // namespace corefleck
