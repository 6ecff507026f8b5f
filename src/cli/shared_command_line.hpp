#pragma once

#include "shared_options.hpp"

#include <CLI/CLI.hpp>

#include <filesystem>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace corefleck {

/// A shared option that a command does not take, and why.
struct RefusedOption {
  std::string_view name, why;
};
/// The shared options as they were typed, until all of them are known.
struct TypedOptions {
  std::filesystem::path setup;
  std::vector<std::pair<const OptionSpec*, std::string>> words;
  std::vector<RefusedOption> refused;
};

/// Declares every shared option and --setup on a command; `typed` must live as long as the command. `refused`
/// ones are left out of its help.
void add_shared_options(CLI::App& command, TypedOptions& typed, std::vector<RefusedOption> refused = {});

/// Declares --out, which every command that writes results needs.
void add_results_folder(CLI::App& command, std::filesystem::path& out);
/// Throws CLI::ValidationError where it was given as nothing.
void check_results_folder(const std::filesystem::path& out);

/// Defaults, then the set-up file, then the command line. Throws CLI::ValidationError, which main makes one
/// line of.
[[nodiscard]] SharedOptions resolved_options(const TypedOptions& typed);

}  // namespace corefleck
