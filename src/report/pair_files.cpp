#include "file_set.hpp"
#include "pair_plates.hpp"
#include "pair_record.hpp"

#include "corefleck/pair_report.hpp"

#include <opencv2/core.hpp>

#include <new>

namespace corefleck {
namespace {

/// What drawing throws becomes an error of these files.
template <class Make>
Result<void> written(const std::filesystem::path& folder, Make make) {
  try {
    auto files = make();
    if (!files) return tl::make_unexpected(files.error());
    return write_files(*files, folder);
  } catch (const cv::Exception& error) {
    return failure(ErrorCode::cannot_write,
                   folder.string() + ": " + error.err,
                   "report these photos to the maintainers");
  } catch (const std::bad_alloc&) {
    return failure(ErrorCode::cannot_write, folder.string() + ": out of memory", "export the photos smaller");
  }
}

}  // namespace

Result<void> write_changes(const ChangesReport& report,
                           const MeasuredFace& before,
                           const MeasuredFace& after,
                           const RecordContext& context,
                           const std::filesystem::path& folder) {
  return written(folder, [&]() -> Result<std::vector<NamedBytes>> {
    auto plate = changes_png(report, before, after, context);
    if (!plate) return tl::make_unexpected(plate.error());
    std::vector<NamedBytes> files;
    files.push_back({"comparison.csv", comparison_csv(report)});
    files.push_back({"changes.csv", changes_csv(report.changes)});
    files.push_back({"changes.png", *std::move(plate)});
    files.push_back({"comparison.json", pair_record(before, after, report.changes.registration, context)});
    return files;
  });
}

Result<void> write_states(const StatesReport& report,
                          const MeasuredFace& dry,
                          const MeasuredFace& wet,
                          const RecordContext& context,
                          const std::filesystem::path& folder) {
  return written(folder, [&]() -> Result<std::vector<NamedBytes>> {
    auto plate = wetdry_png(report, dry, wet, context);
    if (!plate) return tl::make_unexpected(plate.error());
    std::vector<NamedBytes> files;
    files.push_back({"wetdry.csv", wetdry_csv(report)});
    files.push_back({"wetdry_spots.csv", wetdry_spots_csv(report.contrast)});
    files.push_back({"wetdry.png", *std::move(plate)});
    files.push_back({"wetdry.json", pair_record(dry, wet, report.contrast.registration, context)});
    return files;
  });
}

}  // namespace corefleck
