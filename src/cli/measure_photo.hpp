#pragma once

#include "shared_options.hpp"

#include "corefleck/registration.hpp"
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

/// Of a measured face, what comparing it with another one takes.
struct KeptFace {
  MeasuredFace measured;
  FaceDetail detail;
};

enum class Keep { nothing, face };

/// What became of one photo: its row, and for the user one line if it failed.
struct PhotoOutcome {
  SummaryRow row;
  std::filesystem::path folder;
  std::optional<MeasureError> error;
  std::optional<KeptFace> kept;  ///< where it was asked for and the photo was measured
};

/// The whole way of one photo, from its file to its folder of results. Never throws: whatever was not
/// foreseen is an "internal error" of this photo, and the next one goes on.
[[nodiscard]] PhotoOutcome measure_photo(const PhotoTask& task,
                                         const SharedOptions& options,
                                         Keep keep = Keep::nothing);

/// The flat frame serves the whole run, so it is read once and must be readable.
[[nodiscard]] Result<SharedOptions> with_flat_frame(SharedOptions options);

/// What went wrong and what to do, in one line.
[[nodiscard]] std::string line_of(const MeasureError& error);

}  // namespace corefleck
