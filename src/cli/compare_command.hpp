#pragma once

#include "dispatch.hpp"
#include "pair_run.hpp"

#include <CLI/CLI.hpp>

namespace corefleck {

/// Declares `corefleck compare`: names, help, examples.
void add_compare_command(CLI::App& app, Dispatch& dispatch);

/// Measures both photos, compares them and writes DIR; `options` are complete and possible.
[[nodiscard]] ExitStatus run_compare(const PairOptions& options, Terminal& terminal);

}  // namespace corefleck
