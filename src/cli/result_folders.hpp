#pragma once

#include "corefleck/error.hpp"

#include <array>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace corefleck {

/// Names of the files that stand in the output folder itself, so that no photo's folder may take them.
inline constexpr std::array kRunFiles{"summary.csv",
                                      "faces.csv",
                                      "report.html",
                                      "comparison.csv",
                                      "changes.csv",
                                      "changes.png",
                                      "comparison.json",
                                      "wetdry.csv",
                                      "wetdry_spots.csv",
                                      "wetdry.png",
                                      "wetdry.json",
                                      "growth.csv",
                                      "tracks.csv",
                                      "growth.json",
                                      "growth.png"};

/// Where each photo's files go: a folder's name inside the output folder, in the order of the photos. The
/// name is the photo's own without extension, cleaned of what could lead elsewhere; a name that is taken,
/// also if only upper and lower case differ, gets "-2", "-3" and so on.
[[nodiscard]] std::vector<std::filesystem::path> folder_names(
    const std::vector<std::filesystem::path>& photos);

/// A name of its own for each of these words in one folder, cleaned as above: "A/1" and "A_1" become "A_1"
/// and "A_1-2".
[[nodiscard]] std::vector<std::string> distinct_names(const std::vector<std::string>& words);

/// A photo that stands where results are to be written, or inside a folder of results: it would be
/// overwritten, or it is itself a result. Empty when all may be measured.
[[nodiscard]] std::optional<MeasureError> photo_in_the_way(const std::vector<std::filesystem::path>& photos,
                                                           const std::filesystem::path& out,
                                                           const std::vector<std::filesystem::path>& folders);

/// Makes the output folder where it is missing, and tries to write into it, before the long work.
[[nodiscard]] Result<void> prepare_output(const std::filesystem::path& out);

}  // namespace corefleck
