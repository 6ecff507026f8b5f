#include "measure_command.hpp"

#include "edits_files.hpp"
#include "face_summary.hpp"
#include "measure_photo.hpp"
#include "photo_batch.hpp"
#include "result_folders.hpp"
#include "shared_command_line.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <memory>
#include <mutex>
#include <optional>
#include <string>

namespace corefleck {
namespace {

constexpr const char* kFooter =
    "Exit status: 0 every photo measured (cautions allowed); 1 some photo could not be measured, all others\n"
    "are written; 2 the command line or an input of the whole run is wrong, nothing is written.\n"
    "\n"
    "Examples:\n"
    "  corefleck measure core-1.jpg --out results\n"
    "  corefleck measure site/*.jpg --out results --state dry --bar-length-mm 100 --bar-blocks 10\n"
    "  corefleck measure core-1.jpg --out results --setup practice.toml --core-at 2010,1480,1105\n"
    "  corefleck measure core-1.jpg --out results --edits edits.json";

/// Tells of the photos in their order, whichever is done first.
class Teller {
 public:
  Teller(const MeasureOptions& options, Terminal& terminal)
      : options_(options), terminal_(terminal), outcomes_(options.photos.size()) {
    for (const auto& photo : options.photos) name_width_ = std::max(name_width_, photo.string().size());
    if (!options_.shared.silent()) terminal_.progress(0, progress_total());
  }

  void take(std::size_t index, PhotoOutcome outcome) {
    const std::lock_guard lock(mutex_);
    outcomes_[index] = std::move(outcome);
    ++done_;
    for (; told_ < outcomes_.size() && outcomes_[told_]; ++told_) tell(*outcomes_[told_]);
    if (!options_.shared.silent()) terminal_.progress(done_, progress_total());
  }

  [[nodiscard]] std::vector<SummaryRow> rows() {
    std::vector<SummaryRow> rows;
    for (auto& outcome : outcomes_) rows.push_back(std::move(outcome.value().row));
    return rows;
  }

 private:
  [[nodiscard]] std::size_t progress_total() const { return outcomes_.size() > 1 ? outcomes_.size() : 0; }

  void tell(PhotoOutcome& outcome) {
    if (outcome.error) {
      terminal_.complain(fmt::format("{}: {}", outcome.row.photo, outcome.row.reason));
      std::error_code ignored;
      if (std::filesystem::exists(outcome.folder / "record.json", ignored))
        terminal_.complain(outcome.folder.string() +
                           ": holds the results of an earlier run, not of this one");
      return;
    }
    if (options_.shared.silent()) return;
    terminal_.print_raw(outcomes_.size() == 1 ? face_summary(outcome.row, outcome.folder, terminal_)
                                              : face_line(outcome.row, name_width_, terminal_) + '\n');
  }

  const MeasureOptions& options_;
  Terminal& terminal_;
  std::mutex mutex_;
  std::vector<std::optional<PhotoOutcome>> outcomes_;
  std::size_t done_ = 0, told_ = 0, name_width_ = 0;
};

void tell_counts(const std::vector<SummaryRow>& rows, const std::filesystem::path& out, Terminal& terminal) {
  const auto failed = std::count_if(rows.begin(), rows.end(), [](const SummaryRow& r) { return !r.figures; });
  const auto doubtful = std::count_if(rows.begin(), rows.end(), [](const SummaryRow& r) {
    return r.figures && !r.figures->cautions.empty();
  });
  const auto all = static_cast<std::ptrdiff_t>(rows.size());
  terminal.print(fmt::format("{} photos: {} ok, {} with cautions, {} failed; table: {}",
                             all,
                             all - failed - doubtful,
                             doubtful,
                             failed,
                             printable((out / "summary.csv").string())));
}

ExitStatus refused(const MeasureError& error, Terminal& terminal) {
  terminal.complain(line_of(error));
  return ExitStatus::wrong_input;
}

/// A table of an earlier run that this run has no figures for would be taken for its own.
Result<void> write_faces(const std::optional<FacesMean>& mean, const std::filesystem::path& table) {
  if (mean) return write_whole(table, faces_csv(*mean));
  std::error_code ignored;
  std::filesystem::remove(table, ignored);
  return {};
}

ExitStatus write_and_tell(const MeasureOptions& options,
                          const std::vector<SummaryRow>& rows,
                          Terminal& terminal) {
  const auto mean = mean_over_faces(rows);
  const auto faces_table = options.out / "faces.csv";
  const auto written = write_whole(options.out / "summary.csv", summary_csv(rows)).and_then([&] {
    return write_faces(mean, faces_table);
  });
  if (!written) terminal.complain(line_of(written.error()));
  if (options.shared.json) terminal.print_raw(summary_json(rows));
  if (!options.shared.silent() && rows.size() > 1) tell_counts(rows, options.out, terminal);
  if (!options.shared.silent() && mean) terminal.print_raw(faces_summary(*mean, faces_table, terminal));
  const bool all =
      std::all_of(rows.begin(), rows.end(), [](const SummaryRow& r) { return r.figures.has_value(); });
  return written && all ? ExitStatus::ok : ExitStatus::failed;
}

}  // namespace

void add_measure_command(CLI::App& app, Dispatch& dispatch) {
  struct Typed {
    std::vector<std::string> photos;
    std::filesystem::path out;
    TypedOptions shared;
  };
  const auto typed = std::make_shared<Typed>();
  CLI::App* command =
      app.add_subcommand("measure", "Measure the light spots on photos of drilled cores, one face a photo.");
  command
      ->add_option(
          "PHOTO", typed->photos, "JPEG, PNG or TIFF, with core, scale bar and grey card in the frame")
      ->required()
      ->option_text("...");
  add_results_folder(*command, typed->out);
  add_shared_options(*command, typed->shared);
  command->footer(kFooter);
  command->callback([typed, &dispatch] {
    check_results_folder(typed->out);
    MeasureOptions options{
        {typed->photos.begin(), typed->photos.end()}, typed->out, resolved_options(typed->shared)};
    dispatch.run = [options = std::move(options)](Terminal& terminal) {
      return run_measure(options, terminal);
    };
  });
}

ExitStatus run_measure(const MeasureOptions& options, Terminal& terminal) {
  const auto folders = folder_names(options.photos);
  if (const auto error = photo_in_the_way(options.photos, options.out, folders))
    return refused(*error, terminal);
  auto shared = with_flat_frame(options.shared);
  if (!shared) return refused(shared.error(), terminal);
  const auto edits = edits_of_photos(options.shared.edits_files, options.photos);
  if (!edits) return refused(edits.error(), terminal);
  if (const auto ready = prepare_output(options.out); !ready) return refused(ready.error(), terminal);

  const MeasureOptions complete{options.photos, options.out, *std::move(shared)};
  std::vector<SharedOptions> of_photos(folders.size(), complete.shared);
  std::vector<BatchPhoto> photos;
  for (std::size_t i = 0; i < folders.size(); ++i) {
    of_photos[i].edits = (*edits)[i];
    photos.push_back({{options.photos[i], options.out / folders[i]}, &of_photos[i]});
  }
  Teller teller(complete, terminal);
  measure_photos(photos, complete.shared.jobs, Keep::nothing, [&](std::size_t index, PhotoOutcome outcome) {
    teller.take(index, std::move(outcome));
  });
  terminal.end_progress();
  return write_and_tell(complete, teller.rows(), terminal);
}

}  // namespace corefleck
