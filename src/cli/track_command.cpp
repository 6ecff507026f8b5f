#include "track_command.hpp"

#include "edits_files.hpp"
#include "result_folders.hpp"
#include "shared_command_line.hpp"
#include "track_core.hpp"
#include "track_summary.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <fstream>
#include <iterator>
#include <memory>
#include <string>
#include <vector>

namespace corefleck {
namespace {

namespace fs = std::filesystem;

constexpr const char* kFooter =
    "The list is CSV with the columns core, date (YYYY-MM-DD), photo and, if wanted, state (dry, wet) and "
    "note:\n"
    "  core,date,photo\n"
    "  A,2025-03-04,march/core-a.jpg\n"
    "  A,2025-09-11,september/core-a.jpg\n"
    "Each core needs two visits or more. Photos are looked for from the list's own folder.\n"
    "\n"
    "Exit status: 0 every core tracked (cautions allowed); 1 some photo could not be measured or laid onto "
    "the others\n"
    "of its core, all else is written; 2 the command line or the list is wrong, nothing is written.\n"
    "\n"
    "Examples:\n"
    "  corefleck track visits.csv --out growth\n"
    "  corefleck track visits.csv --out growth --setup practice.toml --state dry\n"
    "  corefleck track visits.csv --out growth --json";

constexpr std::uintmax_t kLargestList = 16U << 20U;

Result<std::string> list_text(const fs::path& list) {
  const auto unreadable = [&](std::string_view why) {
    return failure(
        ErrorCode::bad_list, fmt::format("{}: {}", list.string(), why), "give a list of visits as CSV");
  };
  std::error_code error;
  if (!fs::exists(list, error)) return unreadable("no such file");
  if (fs::is_directory(list, error)) return unreadable("is a folder");
  if (fs::is_regular_file(list, error) && fs::file_size(list, error) > kLargestList)
    return unreadable("is too large for a list");
  std::ifstream file(list, std::ios::binary);
  std::string text{std::istreambuf_iterator<char>(file), {}};
  if (!file || file.bad()) return unreadable("cannot be read");
  return text;
}

/// The cores of the list with their photos' paths from here, or every fault.
tl::expected<std::vector<CoreVisits>, std::vector<MeasureError>> listed_cores(const fs::path& list) {
  const auto text = list_text(list);
  if (!text) return tl::make_unexpected(std::vector{text.error()});
  std::vector<MeasureError> errors;
  auto cores = visits_of(*text);
  if (!cores) {
    for (const ListFault& fault : cores.error()) errors.push_back(error_of(fault, list));
    return tl::make_unexpected(std::move(errors));
  }
  for (CoreVisits& core : *cores)
    for (Visit& visit : core.visits) {
      visit.photo = (list.parent_path() / visit.photo).lexically_normal();
      std::error_code ignored;
      if (fs::exists(visit.photo, ignored)) continue;
      errors.push_back(error_of({visit.photo_cell.line,
                                 visit.photo_cell.column,
                                 fmt::format("no photo \"{}\"", visit.photo.string()),
                                 "correct the name, or put the photo there"},
                                list));
    }
  if (!errors.empty()) return tl::make_unexpected(std::move(errors));
  return *std::move(cores);
}

/// What a run is made of, one element a photo, cores one after the other.
struct TrackPlan {
  std::vector<CoreVisits> cores;
  std::vector<fs::path> photos;
  std::vector<fs::path> folders;
  std::vector<std::string> plot_names;  ///< one a core
  std::vector<SharedOptions> options;   ///< the visit's own state over the run's
};

TrackPlan plan_of(std::vector<CoreVisits> cores, const SharedOptions& shared) {
  TrackPlan plan;
  std::vector<std::string> core_names;
  for (const CoreVisits& core : cores) {
    core_names.push_back(core.core);
    for (const Visit& visit : core.visits) {
      plan.photos.push_back(visit.photo);
      plan.options.push_back(shared);
      plan.options.back().state = visit.state.value_or(shared.state);
    }
  }
  plan.folders = folder_names(plan.photos);
  for (const std::string& name : distinct_names(core_names))
    plan.plot_names.push_back(fmt::format("growth-{}.png", name));
  plan.cores = std::move(cores);
  return plan;
}

class TrackRun {
 public:
  TrackRun(const TrackOptions& options, const TrackPlan& plan, Terminal& terminal)
      : options_(options), plan_(plan), terminal_(terminal) {}

  ExitStatus run() {
    tell_progress();
    std::size_t first = 0;
    for (std::size_t i = 0; i < plan_.cores.size(); ++i) {
      track(i, first);
      first += plan_.cores[i].visits.size();
    }
    terminal_.end_progress();
    return write_and_tell();
  }

 private:
  void tell_progress() {
    if (!options_.shared.silent()) terminal_.progress(done_, plan_.photos.size());
  }

  void track(std::size_t index, std::size_t first_photo) {
    std::vector<BatchPhoto> photos;
    for (std::size_t i = 0; i < plan_.cores[index].visits.size(); ++i) {
      const std::size_t at = first_photo + i;
      photos.push_back({{plan_.photos[at], options_.out / plan_.folders[at]}, &plan_.options[at]});
    }
    TrackedCore tracked =
        track_core(plan_.cores[index], plan_.plot_names[index], photos, options_.shared.jobs, [this] {
          ++done_;
          tell_progress();
        });
    for (const std::string& complaint : tracked.complaints) terminal_.complain(complaint);
    good_ = good_ && tracked.complaints.empty();
    if (!options_.shared.silent()) terminal_.print_raw(core_summary(tracked, terminal_));
    for (PhotoOutcome& outcome : tracked.outcomes) rows_.push_back(std::move(outcome.row));
    reports_.push_back(std::move(tracked.report));
  }

  ExitStatus write_and_tell() {
    const RecordContext context{COREFLECK_VERSION, options_.shared.state, recorded(options_.shared)};
    const auto written = write_whole(options_.out / "summary.csv", summary_csv(rows_)).and_then([&] {
      return write_growth(reports_, context, options_.out);
    });
    if (!written) terminal_.complain(line_of(written.error()));
    if (options_.shared.json)
      terminal_.print_raw(growth_json(reports_));
    else if (!options_.shared.silent() && written)
      terminal_.print_raw(growth_files_summary(reports_, options_.out));
    return written && good_ ? ExitStatus::ok : ExitStatus::failed;
  }

  const TrackOptions& options_;
  const TrackPlan& plan_;
  Terminal& terminal_;
  std::atomic<std::size_t> done_{0};
  bool good_ = true;
  std::vector<SummaryRow> rows_;
  std::vector<CoreReport> reports_;
};

ExitStatus refused(const MeasureError& error, Terminal& terminal) {
  terminal.complain(line_of(error));
  return ExitStatus::wrong_input;
}

/// The list itself must not lie where results are written, no more than a photo.
std::optional<MeasureError> something_in_the_way(const TrackOptions& options, const TrackPlan& plan) {
  std::vector<fs::path> inputs = plan.photos;
  inputs.push_back(options.list);
  std::vector<fs::path> places = plan.folders;
  places.insert(places.end(), plan.plot_names.begin(), plan.plot_names.end());
  return photo_in_the_way(inputs, options.out, places);
}

}  // namespace

void add_track_command(CLI::App& app, Dispatch& dispatch) {
  struct Typed {
    fs::path list, out;
    TypedOptions shared;
  };
  const auto typed = std::make_shared<Typed>();
  CLI::App* command = app.add_subcommand(
      "track", "Track the spots of cores over dated visits: how fast their area fraction changes.");
  command->add_option("VISITS.csv", typed->list, "list of cores, dates and photos; see below")
      ->required()
      ->option_text(" ");
  add_results_folder(*command, typed->out);
  add_shared_options(*command, typed->shared);
  command->footer(kFooter);
  command->callback([typed, &dispatch] {
    check_results_folder(typed->out);
    TrackOptions options{typed->list, typed->out, resolved_options(typed->shared)};
    dispatch.run = [options = std::move(options)](Terminal& terminal) {
      return run_track(options, terminal);
    };
  });
}

ExitStatus run_track(const TrackOptions& options, Terminal& terminal) {
  auto cores = listed_cores(options.list);
  if (!cores) {
    for (const MeasureError& error : cores.error()) terminal.complain(line_of(error));
    return ExitStatus::wrong_input;
  }
  auto shared = with_flat_frame(options.shared);
  if (!shared) return refused(shared.error(), terminal);
  TrackPlan plan = plan_of(*std::move(cores), *shared);
  const auto edits = edits_of_photos(options.shared.edits_files, plan.photos);
  if (!edits) return refused(edits.error(), terminal);
  for (std::size_t i = 0; i < edits->size(); ++i) plan.options[i].edits = (*edits)[i];
  if (const auto error = something_in_the_way(options, plan)) return refused(*error, terminal);
  if (const auto ready = prepare_output(options.out); !ready) return refused(ready.error(), terminal);
  return TrackRun(options, plan, terminal).run();
}

}  // namespace corefleck
