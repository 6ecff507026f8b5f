#pragma once

#include "dispatch.hpp"
#include "exit_status.hpp"
#include "shared_options.hpp"
#include "terminal.hpp"

#include <CLI/CLI.hpp>

#include <filesystem>
#include <vector>

namespace corefleck {

struct MeasureOptions {
  std::vector<std::filesystem::path> photos;
  std::filesystem::path out;
  SharedOptions shared;
};

/// Declares `corefleck measure`: names, help, examples.
void add_measure_command(CLI::App& app, Dispatch& dispatch);

/// Measures every photo and writes DIR/summary.csv and a folder each; `options` are complete and possible.
[[nodiscard]] ExitStatus run_measure(const MeasureOptions& options, Terminal& terminal);

}  // namespace corefleck
