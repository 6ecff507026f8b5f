#include "command_line.hpp"

#include "compare_command.hpp"
#include "dispatch.hpp"
#include "measure_command.hpp"
#include "track_command.hpp"
#include "wetdry_command.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <exception>
#include <string>

namespace corefleck {
namespace {

constexpr const char* kVersion = "corefleck " COREFLECK_VERSION;
constexpr const char* kAbout =
    "corefleck measures light spots on photographs of drilled plaster cores.\n"
    "It measures appearance; it does not say why a spot is there.";
constexpr const char* kFooter =
    "corefleck COMMAND --help tells a command's options.\n"
    "\n"
    "Exit status: 0 every photo measured (cautions allowed); 1 some photo could not be measured, all others\n"
    "are written; 2 the command line or an input of the whole run is wrong, nothing is written.\n"
    "\n"
    "Examples:\n"
    "  corefleck measure core-1.jpg --out results\n"
    "  corefleck compare before.jpg after.jpg --out changes\n"
    "  corefleck track visits.csv --out growth\n"
    "  corefleck measure --help";

/// CLI11 leaves two blank lines between groups.
std::string help_of(const CLI::App& app) {
  std::string text = app.help();
  for (auto at = text.find("\n\n\n"); at != std::string::npos; at = text.find("\n\n\n")) text.erase(at, 1);
  return text;
}

std::string help_hint(const CLI::App& app) {
  const auto chosen = app.get_subcommands();
  return chosen.empty() ? "corefleck --help" : fmt::format("corefleck {} --help", chosen.front()->get_name());
}

ExitStatus print_and_end(const std::string& text, Terminal& terminal) {
  terminal.print_raw(text);
  return terminal.flush() ? ExitStatus::ok : ExitStatus::failed;
}

void declare(CLI::App& app, Dispatch& dispatch) {
  app.name("corefleck");
  app.set_version_flag("--version", kVersion, "show the version and end");
  app.get_formatter()->column_width(32);
  app.get_formatter()->label("OPTIONS", "options");
  app.get_formatter()->label("SUBCOMMAND", "COMMAND");
  app.get_formatter()->label("Positionals", "Input");
  app.require_subcommand(0, 1);  // the message of CLI11 for a missing command does not say what is missing
  app.footer(kFooter);
  add_measure_command(app, dispatch);
  add_wetdry_command(app, dispatch);
  add_compare_command(app, dispatch);
  add_track_command(app, dispatch);
  app.set_help_flag("-h,--help", "show this help and end");
  for (CLI::App* command : app.get_subcommands({})) {
    command->group("Commands");
    command->set_help_flag("-h,--help", "show this help and end");
    command->set_version_flag("--version", kVersion, "show the version and end");
  }
}

ExitStatus parse_and_run(int argc, const char* const* argv, Terminal& terminal) {
  Dispatch dispatch;
  CLI::App app(kAbout);
  declare(app, dispatch);
  try {
    app.parse(argc, argv);
  } catch (const CLI::CallForHelp&) {
    return print_and_end(help_of(app), terminal);
  } catch (const CLI::CallForVersion& version) {
    return print_and_end(std::string(version.what()) + '\n', terminal);
  } catch (const CLI::ValidationError& error) {  // ours: it says already what is wanted
    terminal.complain(error.what());
    return ExitStatus::wrong_input;
  } catch (const CLI::ParseError& error) {
    terminal.complain(fmt::format("{}; see {}", error.what(), help_hint(app)));
    return ExitStatus::wrong_input;
  }
  if (!dispatch.run) {
    terminal.complain("a command is missing; see corefleck --help");
    return ExitStatus::wrong_input;
  }
  const ExitStatus status = dispatch.run(terminal);
  if (terminal.flush()) return status;
  terminal.complain("the results could not be printed; free some room on the disk that stdout goes to");
  return status == ExitStatus::ok ? ExitStatus::failed : status;
}

}  // namespace

ExitStatus run_command_line(int argc, const char* const* argv, Terminal& terminal) {
  try {
    return parse_and_run(argc, argv, terminal);
  } catch (const std::exception& error) {
    terminal.complain(fmt::format("internal error: {}", error.what()));
  } catch (...) {
    terminal.complain("internal error");
  }
  return ExitStatus::failed;
}

}  // namespace corefleck
