#include "file_set.hpp"
#include "pair_html.hpp"
#include "pair_plates.hpp"
#include "pair_record.hpp"

#include "corefleck/beside.hpp"
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
                           const PairedPhoto& before,
                           const PairedPhoto& after,
                           const std::filesystem::path& folder) {
  return written(folder, [&]() -> Result<std::vector<NamedBytes>> {
    const Registration& registration = report.changes.registration;
    const LaidPair laid = laid_pair(before.face, after.face, registration.first_to_second);
    auto page = beside([&] { return changes_html(report, laid, before, after); });
    auto plate = changes_png(report, laid, before.context);
    if (!plate) return tl::make_unexpected(plate.error());
    std::vector<NamedBytes> files;
    files.push_back({"comparison.csv", comparison_csv(report)});
    files.push_back({"changes.csv", changes_csv(report.changes)});
    files.push_back({"changes.png", *std::move(plate)});
    files.push_back({"report.html", page.get()});
    files.push_back({"comparison.json", pair_record(before.face, after.face, registration, before.context)});
    return files;
  });
}

Result<void> write_states(const StatesReport& report,
                          const PairedPhoto& dry,
                          const PairedPhoto& wet,
                          const std::filesystem::path& folder) {
  return written(folder, [&]() -> Result<std::vector<NamedBytes>> {
    const Registration& registration = report.contrast.registration;
    const LaidPair laid = laid_pair(dry.face, wet.face, registration.first_to_second);
    auto page = beside([&] { return states_html(report, laid, dry, wet); });
    auto plate = wetdry_png(report, laid, dry.context);
    if (!plate) return tl::make_unexpected(plate.error());
    std::vector<NamedBytes> files;
    files.push_back({"wetdry.csv", wetdry_csv(report)});
    files.push_back({"wetdry_spots.csv", wetdry_spots_csv(report.contrast)});
    files.push_back({"wetdry.png", *std::move(plate)});
    files.push_back({"report.html", page.get()});
    files.push_back({"wetdry.json", pair_record(dry.face, wet.face, registration, dry.context)});
    return files;
  });
}

}  // namespace corefleck
