#pragma once

#include "corefleck/comparison.hpp"
#include "corefleck/report.hpp"

#include <filesystem>
#include <string>

namespace corefleck {

/// What `compare` tells of two photos: their rows of summary.csv, both measured, and what changed.
struct ChangesReport {
  SummaryRow before, after;
  FaceChanges changes;
};

/// What `wetdry` tells of two photos.
struct StatesReport {
  SummaryRow dry, wet;
  StateContrast contrast;
};

/// Text of comparison.csv and changes.csv, of wetdry.csv and wetdry_spots.csv; CSV as in report.hpp. Ids of
/// several spots are joined by ';'.
[[nodiscard]] std::string comparison_csv(const ChangesReport& report);
[[nodiscard]] std::string changes_csv(const FaceChanges& changes);
[[nodiscard]] std::string wetdry_csv(const StatesReport& report);
[[nodiscard]] std::string wetdry_spots_csv(const StateContrast& contrast);
/// The one row of comparison.csv or wetdry.csv as a JSON object.
[[nodiscard]] std::string comparison_json(const ChangesReport& report);
[[nodiscard]] std::string wetdry_json(const StatesReport& report);

/// One photo of a pair: measured, with what options, and in which folder beside the pair's files its own are.
struct PairedPhoto {
  const MeasuredFace& face;
  RecordContext context;
  std::string folder;
};

/// Writes comparison.csv, changes.csv, changes.png, report.html and comparison.json into `folder`, all or
/// none.
[[nodiscard]] Result<void> write_changes(const ChangesReport& report,
                                         const PairedPhoto& before,
                                         const PairedPhoto& after,
                                         const std::filesystem::path& folder);
/// Writes wetdry.csv, wetdry_spots.csv, wetdry.png, report.html and wetdry.json into `folder`, all or none.
[[nodiscard]] Result<void> write_states(const StatesReport& report,
                                        const PairedPhoto& dry,
                                        const PairedPhoto& wet,
                                        const std::filesystem::path& folder);

}  // namespace corefleck
