#include "shared_command_line.hpp"

#include "setup_file.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace corefleck {
namespace {

const RefusedOption* refusal_of(const TypedOptions& typed, const OptionSpec& spec) {
  const auto found = std::find_if(typed.refused.begin(),
                                  typed.refused.end(),
                                  [&](const RefusedOption& refused) { return refused.name == spec.name; });
  return found == typed.refused.end() ? nullptr : &*found;
}

void add_option(CLI::App& command, const OptionSpec& spec, TypedOptions& typed) {
  const std::string name = fmt::format("--{}", spec.name);
  CLI::Option* option = nullptr;
  if (spec.kind == OptionKind::flag)
    option = command.add_flag_function(
        name,
        [&typed, &spec](std::int64_t count) {
          typed.words.emplace_back(&spec, count > 0 ? "true" : "false");
        },
        std::string(spec.meaning));
  else
    option = command
                 .add_option_function<std::string>(
                     name,
                     [&typed, &spec](const std::string& words) { typed.words.emplace_back(&spec, words); },
                     std::string(spec.meaning))
                 ->type_name(std::string(spec.value_name))
                 ->option_text(std::string(spec.value_name))
                 ->trigger_on_parse(spec.kind == OptionKind::paths);  // else CLI11 takes it once only
  // CLI11 leaves options without a group out of the help.
  option->group(refusal_of(typed, spec) == nullptr ? std::string(spec.group) : std::string());
}

}  // namespace

void add_shared_options(CLI::App& command, TypedOptions& typed, std::vector<RefusedOption> refused) {
  typed.refused = std::move(refused);
  for (const OptionSpec& spec : shared_option_specs()) add_option(command, spec, typed);
  command.add_option("--setup", typed.setup, "these options from a TOML file; the command line wins")
      ->option_text("FILE.toml")
      ->group("Run");
}

void add_results_folder(CLI::App& command, std::filesystem::path& out) {
  command.add_option("--out", out, "folder of the results, made if missing (required)")
      ->required()
      ->option_text("DIR")
      ->group("Output");
}

void check_results_folder(const std::filesystem::path& out) {
  if (out.empty()) throw CLI::ValidationError("--out is empty; give a folder for the results");
}

SharedOptions resolved_options(const TypedOptions& typed) {
  SharedOptions options;
  if (!typed.setup.empty())
    if (const auto applied = apply_setup_file(typed.setup, options); !applied)
      throw CLI::ValidationError(fmt::format("{}; {}", applied.error().what, applied.error().hint));
  for (const auto& [spec, words] : typed.words) {
    if (const auto* refused = refusal_of(typed, *spec))
      throw CLI::ValidationError(fmt::format("--{}: {}", refused->name, refused->why));
    if (const auto fault = set_option_from_words(options, *spec, words))
      throw CLI::ValidationError(fmt::format("--{} = {}", spec->name, *fault));
  }
  if (const auto found = faults(options); !found.empty())
    throw CLI::ValidationError(fmt::format("{}", fmt::join(found, "; ")));
  return options;
}

}  // namespace corefleck
