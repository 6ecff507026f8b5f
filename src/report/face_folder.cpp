#include "file_set.hpp"
#include "label_tiff.hpp"
#include "plate.hpp"

#include "corefleck/beside.hpp"
#include "corefleck/report.hpp"

#include <opencv2/core.hpp>

#include <new>
#include <vector>

namespace corefleck {
namespace {

Result<std::vector<NamedBytes>> contents(const MeasuredFace& measured, const RecordContext& context) {
  // What is waited for longest first: the plate is drawn by two threads at most and packed by one.
  auto packed = beside([&] { return label_tiff(measured.spots.labels, measured.face.grid.pitch); });
  const auto drawn = drawn_plate(measured, context);
  if (!drawn) return tl::make_unexpected(drawn.error());
  auto page = beside([&] { return report_html(measured, context); });
  auto plate = drawn->png();
  if (!plate) return tl::make_unexpected(plate.error());
  auto labels = packed.get();
  if (!labels) return tl::make_unexpected(labels.error());
  std::vector<NamedBytes> files;
  files.push_back({"spots.csv", spots_csv(measured.figures)});
  files.push_back({"sizes.csv", sizes_csv(measured.figures)});
  files.push_back({"overlay.png", *std::move(plate)});
  files.push_back({"spots.tif", *std::move(labels)});
  files.push_back({"report.html", page.get()});
  files.push_back({"record.json", record_json(measured, context)});
  return files;
}

Result<void> write_into(const MeasuredFace& measured,
                        const RecordContext& context,
                        const std::filesystem::path& folder) {
  const auto files = contents(measured, context);
  if (!files) return tl::make_unexpected(files.error());
  return write_files(*files, folder);
}

}  // namespace

Result<void> write_face(const MeasuredFace& measured,
                        const RecordContext& context,
                        const std::filesystem::path& folder) {
  try {
    return write_into(measured, context, folder);
  } catch (const cv::Exception& error) {
    return failure(
        ErrorCode::cannot_write, folder.string() + ": " + error.err, "report this photo to the maintainers");
  } catch (const std::bad_alloc&) {
    return failure(ErrorCode::cannot_write,
                   folder.string() + ": out of memory",
                   "measure this photo alone, with --jobs 1");
  }
}

}  // namespace corefleck
