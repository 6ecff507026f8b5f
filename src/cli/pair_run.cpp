#include "pair_run.hpp"

#include "edits_files.hpp"
#include "result_folders.hpp"
#include "setup_file.hpp"

#include <fmt/format.h>
#include <opencv2/core/utility.hpp>

#include <array>
#include <exception>
#include <thread>
#include <utility>

namespace corefleck {
namespace {

ExitStatus refused(const MeasureError& error, Terminal& terminal) {
  terminal.complain(line_of(error));
  return ExitStatus::wrong_input;
}

using Outcomes = std::array<PhotoOutcome, 2>;

Outcomes measure_both(const PairOptions& options, const std::vector<std::filesystem::path>& folders) {
  const std::array tasks{PhotoTask{options.first, options.out / folders[0]},
                         PhotoTask{options.second, options.out / folders[1]}};
  Outcomes outcomes;
  const auto measure_second = [&] { outcomes[1] = measure_photo(tasks[1], options.of_second, Keep::face); };
  if (options.of_first.jobs == 1) {
    outcomes[0] = measure_photo(tasks[0], options.of_first, Keep::face);
    measure_second();
    return outcomes;
  }
  const std::jthread other(measure_second);
  outcomes[0] = measure_photo(tasks[0], options.of_first, Keep::face);
  return outcomes;
}

void tell_of_earlier(const PairOptions& options, const std::string& table, Terminal& terminal) {
  std::error_code ignored;
  if (std::filesystem::exists(options.out / table, ignored))
    terminal.complain(
        fmt::format("{}: is the result of an earlier run, not of this one", (options.out / table).string()));
}

bool all_measured(const Outcomes& outcomes, Terminal& terminal) {
  bool all = true;
  for (const PhotoOutcome& outcome : outcomes)
    if (outcome.error) {
      terminal.complain(fmt::format("{}: {}", outcome.row.photo, outcome.row.reason));
      all = false;
    }
  return all;
}

ExitStatus register_and_conclude(const PairOptions& options,
                                 const Outcomes& outcomes,
                                 const std::string& table,
                                 Terminal& terminal,
                                 const std::function<ExitStatus(const RegisteredPair&)>& conclude) {
  auto registration = register_faces(outcomes[0].kept->detail, outcomes[1].kept->detail);
  if (registration) return conclude({outcomes[0], outcomes[1], *registration});
  terminal.complain(fmt::format(
      "{}, {}: {}", options.first.string(), options.second.string(), line_of(registration.error())));
  tell_of_earlier(options, table, terminal);
  return ExitStatus::failed;
}

SharedOptions with_setup(SharedOptions options, const std::filesystem::path& setup) {
  if (setup.empty()) return options;
  if (const auto applied = apply_setup_file(setup, options); !applied)
    throw CLI::ValidationError(line_of(applied.error()));
  if (const auto found = faults(options); !found.empty())
    throw CLI::ValidationError(fmt::format("{}: {}", setup.string(), found.front()));
  return options;
}

}  // namespace

void add_pair_options(CLI::App& command,
                      TypedPair& typed,
                      const std::string& first_name,
                      const std::string& second_name,
                      std::vector<RefusedOption> refused) {
  command
      .add_option(
          first_name, typed.first, "JPEG, PNG or TIFF, with core, scale bar and grey card in the frame")
      ->required()
      ->option_text(" ");
  command
      .add_option(
          second_name, typed.second, "the same core's face again; place, turn, distance and light may differ")
      ->required()
      ->option_text(" ");
  add_results_folder(command, typed.out);
  add_shared_options(command, typed.shared, std::move(refused));
  command
      .add_option("--setup-second",
                  typed.second_setup,
                  "options of the second photo alone, over all others, from a TOML file")
      ->option_text("FILE.toml")
      ->group("Run");
}

PairOptions resolved_pair(const TypedPair& typed) {
  check_results_folder(typed.out);
  PairOptions options{typed.first, typed.second, typed.out, resolved_options(typed.shared), {}};
  options.of_second = with_setup(options.of_first, typed.second_setup);
  return options;
}

ExitStatus told(const PairOptions& options,
                const Result<void>& written,
                Terminal& terminal,
                const std::function<std::string()>& json,
                const std::function<std::string()>& words) {
  if (!written) {
    terminal.complain(line_of(written.error()));
    return ExitStatus::failed;
  }
  if (options.of_first.json)
    terminal.print_raw(json());
  else if (!options.of_first.quiet)
    terminal.print_raw(words());
  return ExitStatus::ok;
}

FaceToCompare to_compare(const PhotoOutcome& outcome) {
  const MeasuredFace& face = outcome.kept->measured;
  return {face.face, face.spots, face.figures};
}

PairedPhoto paired_photo(const PhotoOutcome& outcome, const SharedOptions& options) {
  return {outcome.kept->measured,
          {COREFLECK_VERSION, options.state, recorded(options)},
          outcome.folder.filename().string()};
}

ExitStatus run_pair(const PairOptions& options,
                    const std::string& table,
                    Terminal& terminal,
                    const std::function<ExitStatus(const RegisteredPair&)>& conclude) {
  const std::vector<std::filesystem::path> photos{options.first, options.second};
  const auto folders = folder_names(photos);
  if (const auto error = photo_in_the_way(photos, options.out, folders)) return refused(*error, terminal);
  auto of_first = with_flat_frame(options.of_first);
  if (!of_first) return refused(of_first.error(), terminal);
  auto of_second = with_flat_frame(options.of_second);
  if (!of_second) return refused(of_second.error(), terminal);
  const auto edits = edits_of_photos(options.of_second.edits_files, photos);  // the first one's among them
  if (!edits) return refused(edits.error(), terminal);
  of_first->edits = edits->front();
  of_second->edits = edits->back();
  if (const auto ready = prepare_output(options.out); !ready) return refused(ready.error(), terminal);

  const PairOptions complete{
      options.first, options.second, options.out, *std::move(of_first), *std::move(of_second)};
  if (!options.of_first.silent()) terminal.progress(0, 3);
  const Outcomes outcomes = measure_both(complete, folders);
  if (!options.of_first.silent()) terminal.progress(2, 3);
  const auto written =
      write_whole(options.out / "summary.csv", summary_csv({outcomes[0].row, outcomes[1].row}));
  ExitStatus status = ExitStatus::failed;
  if (!all_measured(outcomes, terminal))
    tell_of_earlier(complete, table, terminal);
  else
    status = register_and_conclude(complete, outcomes, table, terminal, conclude);
  terminal.end_progress();
  if (!written) {
    terminal.complain(line_of(written.error()));
    return ExitStatus::failed;
  }
  return status;
}

}  // namespace corefleck
