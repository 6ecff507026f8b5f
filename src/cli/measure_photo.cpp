#include "measure_photo.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <exception>
#include <memory>
#include <new>
#include <utility>

namespace corefleck {
namespace {

/// Spots smaller than the default least size are shown finer; the picture of larger ones loses nothing.
CalibrationSettings calibration_of(const SharedOptions& options) {
  CalibrationSettings settings = options.calibration;
  settings.smallest_detail = std::min(options.min_spot, SharedOptions{}.min_spot);
  return settings;
}

SegmentationSettings segmentation_of(const SharedOptions& options) {
  SegmentationSettings settings;
  settings.min_spot = options.min_spot;
  settings.state = options.state;
  return settings;
}

MeasurementSettings measurement_of(const SharedOptions& options, const Photo& photo) {
  MeasurementSettings settings;
  settings.camera_tones = photo.has_camera_tones();
  settings.min_spot = options.min_spot;
  settings.size_classes = options.size_classes;
  settings.core_diameter = options.calibration.core_diameter;
  return settings;
}

/// Measures again with the edits, and keeps what was measured without.
Result<void> apply_edits(MeasuredFace& measured, const Edits& edits, const MeasurementSettings& settings) {
  auto edited = with_edits(measured.face, measured.spots, edits, settings.min_spot);
  if (!edited) return tl::make_unexpected(edited.error());
  FaceMeasurement figures = measure(measured.face, edited->spots, settings);
  figures.cautions.push_back(
      {CautionKind::edited, fmt::format("{} edit{}", edits.list.size(), edits.list.size() == 1 ? "" : "s")});
  measured.spots.pit_mask.release();
  measured.hand_edits =
      HandEdits{edits, std::move(edited->outcomes), std::move(measured.spots), std::move(measured.figures)};
  measured.spots = std::move(edited->spots);
  measured.figures = std::move(figures);
  return {};
}

Result<KeptFace> measured_face(Photo photo, const SharedOptions& options, Keep keep) {
  auto face = calibrate(photo, calibration_of(options));
  if (!face) return tl::make_unexpected(face.error());
  const cv::Size photo_px(photo.width_px(), photo.height_px());
  const MeasurementSettings settings = measurement_of(options, photo);
  photo.samples.release();  // the rectified face has all that is measured from here on
  auto picture = plate_picture(*face);
  auto spots = find_spots(*face, segmentation_of(options));
  if (!spots) return tl::make_unexpected(spots.error());
  FaceMeasurement figures = measure(*face, *spots, settings);
  cv::Mat shown = picture.get();
  MeasuredFace measured{
      std::move(photo), *std::move(face), *std::move(spots), std::move(figures), photo_px, std::move(shown)};
  measured.page = page_sources(measured.face, measured.spots);
  if (options.edits)
    if (auto edited = apply_edits(measured, *options.edits, settings); !edited)
      return tl::make_unexpected(edited.error());
  FaceDetail detail = keep == Keep::face ? face_detail(measured.face, measured.spots) : FaceDetail{};
  for (cv::Mat* plane : {&measured.face.overview,
                         &measured.face.luminance,
                         &measured.face.clipped,
                         &measured.face.outside,
                         &measured.spots.pit_mask})
    plane->release();  // the files show colour and labels only, and drawing them wants memory too
  return KeptFace{std::move(measured), std::move(detail)};
}

// The stages may name the photo in their words; the row and the line on stderr name it already.
std::string without_name(std::string what, const std::filesystem::path& photo) {
  for (const std::string& name : {photo.string(), photo.filename().string()})
    if (what.starts_with(name + ": ")) return what.substr(name.size() + 2);
  return what;
}

void fail(PhotoOutcome& outcome, MeasureError error) {
  error.what = without_name(std::move(error.what), outcome.row.photo);
  outcome.row.figures.reset();
  outcome.row.reason = line_of(error);
  outcome.error = std::move(error);
}

Result<void> measure_and_write(const PhotoTask& task,
                               const SharedOptions& options,
                               Keep keep,
                               PhotoOutcome& outcome) {
  auto photo = read_photo(task.photo, options.limits);
  if (!photo) return tl::make_unexpected(photo.error());
  outcome.row.photo_sha256 = photo->sha256;
  outcome.row.taken = photo->camera.taken;
  if (options.edits)
    if (auto fits = belongs_to(*options.edits, photo->sha256); !fits)
      return tl::make_unexpected(fits.error());
  auto face = measured_face(*std::move(photo), options, keep);
  if (!face) return tl::make_unexpected(face.error());
  const RecordContext context{COREFLECK_VERSION, options.state, recorded(options)};
  if (auto written = write_face(face->measured, context, task.folder); !written) return written;
  outcome.row.figures = face->measured.figures;
  if (face->measured.hand_edits) outcome.row.unedited = face->measured.hand_edits->unedited;
  if (keep == Keep::face) outcome.kept = *std::move(face);
  return {};
}

std::string internal_error(const std::exception& error) {
  std::string cause = error.what();  // OpenCV's has several lines
  cause.resize(std::min(cause.find_first_of("\r\n"), cause.size()));
  return "internal error: " + cause;
}

}  // namespace

PhotoOutcome measure_photo(const PhotoTask& task, const SharedOptions& options, Keep keep) {
  PhotoOutcome outcome;
  outcome.folder = task.folder;
  outcome.row.photo = task.photo.string();
  outcome.row.state = options.state;
  constexpr std::string_view kReport = "report this photo to the maintainers";
  try {
    if (auto done = measure_and_write(task, options, keep, outcome); !done)
      fail(outcome, std::move(done.error()));
  } catch (const std::bad_alloc&) {
    fail(outcome,
         {ErrorCode::photo_too_large, "out of memory", "use fewer --jobs, or export the photo smaller"});
  } catch (const std::exception& error) {
    fail(outcome, {ErrorCode::face_not_measurable, internal_error(error), std::string(kReport)});
  } catch (...) {
    fail(outcome, {ErrorCode::face_not_measurable, "internal error", std::string(kReport)});
  }
  return outcome;
}

Result<SharedOptions> with_flat_frame(SharedOptions options) {
  if (options.flat_frame.empty()) return options;
  auto frame = read_photo(options.flat_frame, options.limits);
  if (!frame) {
    auto [code, what, hint] = std::move(frame.error());
    return failure(code, fmt::format("--flat-frame: {}", what), hint);
  }
  options.calibration.flat_frame = std::make_shared<const Photo>(*std::move(frame));
  return options;
}

std::string line_of(const MeasureError& error) {
  return error.hint.empty() ? error.what : fmt::format("{}; {}", error.what, error.hint);
}

}  // namespace corefleck
