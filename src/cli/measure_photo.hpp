#pragma once

#include "shared_options.hpp"

#include "corefleck/report.hpp"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace corefleck {

/// What is to be done with one photo.
struct PhotoTask {
  std::filesystem::path photo;   ///< as the user named it
  std::filesystem::path folder;  ///< of its results
};

/// What became of one photo: its row, and for the user one line if it failed.
struct PhotoOutcome {
  SummaryRow row;
  std::filesystem::path folder;
  std::optional<MeasureError> error;
};

/// The whole way of one photo, from its file to its folder of results. Never throws: whatever was not
/// foreseen is an "internal error" of this photo, and the next one goes on.
[[nodiscard]] PhotoOutcome measure_photo(const PhotoTask& task, const SharedOptions& options);

}  // namespace corefleck
