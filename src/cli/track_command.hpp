#pragma once

#include "dispatch.hpp"
#include "exit_status.hpp"
#include "shared_options.hpp"
#include "terminal.hpp"

#include <CLI/CLI.hpp>

#include <filesystem>

namespace corefleck {

struct TrackOptions {
  std::filesystem::path list;
  std::filesystem::path out;
  SharedOptions shared;
};

/// Declares `corefleck track`: names, help, examples.
void add_track_command(CLI::App& app, Dispatch& dispatch);

/// Measures the visits of every core in the list and writes growth, tracks and plots; `options` are possible.
[[nodiscard]] ExitStatus run_track(const TrackOptions& options, Terminal& terminal);

}  // namespace corefleck
