#pragma once

#include "corefleck/edits.hpp"
#include "corefleck/measurement.hpp"
#include "corefleck/photo.hpp"
#include "corefleck/statistics.hpp"

#include <nlohmann/json_fwd.hpp>

#include <filesystem>
#include <future>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace corefleck {

/// report: the only module that writes files.
///   in     what the earlier stages gave
///   out    summary.csv, faces.csv, spots.csv, sizes.csv, overlay.png, spots.tif, report.html, record.json
///          (the overlay's letters: DejaVu Sans, Debian package fonts-dejavu-core, else whatever serves as
///          Sans)
///   fails  cannot_write; each file is written under a temporary name beside its place and renamed: whole or
///   not at all

/// What report.html shows and the other files do not.
struct PageSources {
  cv::Mat thumbnail;       ///< CV_32FC3, linear sRGB (R, G, B), of the whole upright photo
  cv::Mat light;           ///< CV_8UC1, on the grid of the colour: 255 (Y / light_top)^(1/3), rounded
  double light_top = 0.0;  ///< largest luminance
  cv::Mat pits;            ///< CV_8UC1, on the grid of the colour: 255 inside a pit
};

/// To be taken before the planes of face and spots are released.
[[nodiscard]] PageSources page_sources(const CalibratedFace& face, const SpotMap& spots);

/// What a person changed, and what was measured before.
struct HandEdits {
  Edits edits;
  std::vector<EditOutcome> outcomes;  ///< one an edit
  SpotMap found;                      ///< without `pit_mask`
  FaceMeasurement unedited;
};

/// Everything about one photo that was measured. What no file shows may have been released by now.
struct MeasuredFace {
  Photo photo;          ///< without `samples`
  CalibratedFace face;  ///< with `colour` alone of its planes
  SpotMap spots;        ///< without `pit_mask`
  FaceMeasurement figures;
  cv::Size photo_px{};  ///< of the upright photo, for the record; empty: taken from `photo.samples`
  cv::Mat picture;      ///< from `plate_picture`; empty: made when the plate is drawn
  /// Empty without edits; with them `spots` and `figures` above are those after the edits.
  std::optional<HandEdits> hand_edits{};
  PageSources page{};
};

/// The face as the plate shows it, made on a thread of its own where there are processors to spare: it asks
/// for nothing but the calibrated face, which must stay, so that it is ready by the time the spots are
/// measured.
[[nodiscard]] std::future<cv::Mat> plate_picture(const CalibratedFace& face);

struct RecordContext {
  std::string program_version;
  FaceState state = FaceState::unknown;
  /// Every option in force, name as on the command line without dashes, value as JSON, defaults included.
  std::vector<std::pair<std::string, std::string>> options;
};

/// One row of summary.csv: measured, or failed with a reason.
struct SummaryRow {
  std::string photo;  ///< as the user named it
  std::string photo_sha256, taken;
  FaceState state = FaceState::unknown;
  std::optional<FaceMeasurement> figures;     ///< empty: failed
  std::string reason;                         ///< of the failure; empty when measured
  std::optional<FaceMeasurement> unedited{};  ///< figures without the edits, where there were any
};

/// Mean over the faces of one run, each face a field in the sense of ASTM E562 and E1245. The interval knows
/// the scatter between the faces and nothing else: it holds for the surface that they were drilled from as
/// far as they are a random sample of it.
struct FacesMean {
  int faces;                    ///< measured ones
  FieldMean area_fraction_pct;  ///< %
};

/// Empty with fewer than two measured faces.
[[nodiscard]] std::optional<FacesMean> mean_over_faces(const std::vector<SummaryRow>& rows);
/// Text of faces.csv: the header and one row.
[[nodiscard]] std::string faces_csv(const FacesMean& mean);

/// Text of summary.csv, header included (RFC 4180, CRLF line ends, '.' as decimal point).
[[nodiscard]] std::string summary_csv(const std::vector<SummaryRow>& rows);
[[nodiscard]] std::string spots_csv(const FaceMeasurement& figures);
[[nodiscard]] std::string sizes_csv(const FaceMeasurement& figures);
/// The summary rows as a JSON text: an array of objects whose keys are the columns, null = not measured.
[[nodiscard]] std::string summary_json(const std::vector<SummaryRow>& rows);
/// report.html: one file that needs no other and no network, to read and to correct.
[[nodiscard]] std::string report_html(const MeasuredFace& measured, const RecordContext& context);
[[nodiscard]] std::string record_json(const MeasuredFace& measured, const RecordContext& context);

/// Writes spots.csv, sizes.csv, overlay.png, spots.tif, report.html and record.json into `folder`, which is
/// made if missing.
[[nodiscard]] Result<void> write_face(const MeasuredFace& measured,
                                      const RecordContext& context,
                                      const std::filesystem::path& folder);

/// Writes bytes under a temporary name in the same folder, then renames.
[[nodiscard]] Result<void> write_whole(const std::filesystem::path& path, std::string_view bytes);

}  // namespace corefleck
