#pragma once

#include "corefleck/growth.hpp"
#include "corefleck/report.hpp"

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace corefleck {

/// One measured visit as it is plotted, listed and recorded.
struct ReportedVisit {
  Date date;
  std::string photo;                ///< as the list names it
  std::string photo_sha256, taken;  ///< as in SummaryRow
  FaceState state = FaceState::unknown;
  Estimate<Quantity<struct PercentUnit>> area_fraction;
  double u_between_photos_pct;  ///< weighs it in the line
  /// How it lies on an earlier visit; empty: the first one.
  struct Link {
    Date earlier;
    double rotation_deg, residual_mm, score;
  };
  std::optional<Link> link;
};

/// A visit as the list has it, whatever became of it.
struct ListedVisit {
  Date date;
  SummaryRow row;        ///< with figures where the photo was measured
  std::string folder;    ///< of the photo's own files, beside the report's
  std::string left_out;  ///< why the growth is made without it; empty: it is not
};

/// What `track` tells of one core.
struct CoreReport {
  std::string core;
  std::string plot_name;              ///< file name of its plot
  std::vector<ReportedVisit> visits;  ///< those that the growth is made of, by date
  std::optional<CoreGrowth> growth;   ///< empty: fewer than two visits could be used
  std::string reason;                 ///< why there is none
  std::vector<ListedVisit> listed{};  ///< all of the core's list, by date
};

/// What to look at twice in how a core's visits were listed and photographed, a sentence each: a camera's
/// date that is not the list's, dry and wet faces side by side.
[[nodiscard]] std::vector<std::string> visit_doubts(const CoreReport& core);

/// Text of growth.csv and tracks.csv; CSV as in report.hpp.
[[nodiscard]] std::string growth_csv(const std::vector<CoreReport>& cores);
[[nodiscard]] std::string tracks_csv(const std::vector<CoreReport>& cores);
/// The rows of growth.csv as a JSON text: an array of objects whose keys are the columns, null = not
/// measured.
[[nodiscard]] std::string growth_json(const std::vector<CoreReport>& cores);

/// What defends the figures: program, options, each visit with its photo's SHA-256, how it was laid onto an
/// earlier one, its weight, and the fitted line.
[[nodiscard]] std::string growth_record(const std::vector<CoreReport>& cores, const RecordContext& context);

/// The plot of area fraction against date: points with their intervals, the fitted line with its own. One
/// core, or all that have a line. Bytes of a PNG, 180 mm wide in print. `cores` holds at least one core with
/// a line.
[[nodiscard]] Result<std::string> growth_plot_png(std::span<const CoreReport> cores,
                                                  const std::string& program_version);

/// Writes growth.csv, tracks.csv, growth.json, report.html, growth.png (all cores) and the plot of each core
/// that has a line into `folder`, all or none. A plot of an earlier run goes where its core has no line now.
[[nodiscard]] Result<void> write_growth(const std::vector<CoreReport>& cores,
                                        const RecordContext& context,
                                        const std::filesystem::path& folder);

}  // namespace corefleck
