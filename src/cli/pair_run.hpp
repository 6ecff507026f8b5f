#pragma once

#include "exit_status.hpp"
#include "measure_photo.hpp"
#include "shared_command_line.hpp"
#include "shared_options.hpp"
#include "terminal.hpp"

#include "corefleck/pair_report.hpp"

#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <vector>

namespace corefleck {

/// What both two-photo commands are given.
struct PairOptions {
  std::filesystem::path first, second, out;
  SharedOptions of_first, of_second;
};

/// Words of the command line for it, until all of them are known.
struct TypedPair {
  std::filesystem::path first, second, out, second_setup;
  TypedOptions shared;
};
/// `first_name` and `second_name` as in the usage line.
void add_pair_options(CLI::App& command,
                      TypedPair& typed,
                      const std::string& first_name,
                      const std::string& second_name,
                      std::vector<RefusedOption> refused = {});
/// Throws CLI::ValidationError for what cannot be.
[[nodiscard]] PairOptions resolved_pair(const TypedPair& typed);

/// Both photos measured and the first laid onto the second.
struct RegisteredPair {
  const PhotoOutcome& first;
  const PhotoOutcome& second;
  Registration registration;
};

/// Measures both photos into DIR, writes summary.csv, lays one face onto the other and hands the pair to
/// `conclude`, which writes and tells what the command is about. Where a photo fails or the faces are not the
/// same, all that was measured stays written and the exit status is 1. `table`: the command's own CSV, to
/// warn of an earlier run's.
[[nodiscard]] ExitStatus run_pair(const PairOptions& options,
                                  const std::string& table,
                                  Terminal& terminal,
                                  const std::function<ExitStatus(const RegisteredPair&)>& conclude);

/// How `conclude` ends: complains where the files could not be written, else tells what was found, as `json`
/// or in `words`, as the options ask.
[[nodiscard]] ExitStatus told(const PairOptions& options,
                              const Result<void>& written,
                              Terminal& terminal,
                              const std::function<std::string()>& json,
                              const std::function<std::string()>& words);

/// Of a kept face, what a comparison reads.
[[nodiscard]] FaceToCompare to_compare(const PhotoOutcome& outcome);
/// And what the pair's files say of it.
[[nodiscard]] PairedPhoto paired_photo(const PhotoOutcome& outcome, const SharedOptions& options);

}  // namespace corefleck
