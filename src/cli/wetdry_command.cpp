#include "wetdry_command.hpp"

#include "pair_summary.hpp"

#include <fmt/format.h>

#include <memory>

namespace corefleck {
namespace {

constexpr const char* kFooter =
    "Lightness is placed by the grey card of each photo, so the card must lie in both. The first photo is "
    "taken as dry\n"
    "and the second as wet, which also tunes the second one's glare mask for a water film.\n"
    "\n"
    "Exit status: 0 compared (cautions allowed); 1 a photo could not be measured, or the faces are not the "
    "same:\n"
    "what could be measured is written; 2 the command line or an input is wrong, nothing is written.\n"
    "\n"
    "Examples:\n"
    "  corefleck wetdry core-1-dry.jpg core-1-wet.jpg --out core-1-contrast\n"
    "  corefleck wetdry dry.jpg wet.jpg --out contrast --bar-length-mm 100 --bar-blocks 10";

ExitStatus conclude(const PairOptions& options, const RegisteredPair& pair, Terminal& terminal) {
  const StatesReport report{
      pair.first.row,
      pair.second.row,
      compare_states(to_compare(pair.first), to_compare(pair.second), pair.registration)};
  const auto written = write_states(report,
                                    paired_photo(pair.first, options.of_first),
                                    paired_photo(pair.second, options.of_second),
                                    options.out);
  return told(
      options,
      written,
      terminal,
      [&] { return wetdry_json(report); },
      [&] { return states_summary(report, options.out, terminal); });
}

PairOptions with_states(PairOptions options) {
  options.of_first.state = FaceState::dry;
  options.of_second.state = FaceState::wet;
  return options;
}

}  // namespace

void add_wetdry_command(CLI::App& app, Dispatch& dispatch) {
  const auto typed = std::make_shared<TypedPair>();
  CLI::App* command = app.add_subcommand(
      "wetdry", "Compare one core's face dry and wet: lightness and contrast in both states.");
  add_pair_options(*command,
                   *typed,
                   "DRY",
                   "WET",
                   {{"state", "wetdry takes its first photo as dry and its second as wet; leave it out"}});
  command->footer(kFooter);
  command->callback([typed, &dispatch] {
    dispatch.run = [options = with_states(resolved_pair(*typed))](Terminal& terminal) {
      return run_wetdry(options, terminal);
    };
  });
}

ExitStatus run_wetdry(const PairOptions& options, Terminal& terminal) {
  return run_pair(options, "wetdry.csv", terminal, [&](const RegisteredPair& pair) {
    return conclude(options, pair, terminal);
  });
}

}  // namespace corefleck
