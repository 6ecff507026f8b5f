#include "compare_command.hpp"

#include "pair_summary.hpp"

#include <fmt/format.h>

#include <memory>

namespace corefleck {
namespace {

constexpr const char* kFooter =
    "A change counts only beyond its own uncertainty. Pencil marks, another place, turn, distance or light, "
    "and a rim\n"
    "broken by up to a quarter do not keep a core from being recognised; other cores and mirrored photos are "
    "refused.\n"
    "\n"
    "Exit status: 0 compared (cautions allowed); 1 a photo could not be measured, or the faces are not the "
    "same:\n"
    "what could be measured is written; 2 the command line or an input is wrong, nothing is written.\n"
    "\n"
    "Examples:\n"
    "  corefleck compare core-1-march.jpg core-1-september.jpg --out core-1-changes\n"
    "  corefleck compare before.jpg after.jpg --out changes --setup practice.toml --setup-second "
    "other-card.toml";

ExitStatus conclude(const PairOptions& options, const RegisteredPair& pair, Terminal& terminal) {
  const ChangesReport report{
      pair.first.row,
      pair.second.row,
      compare_faces(to_compare(pair.first), to_compare(pair.second), pair.registration)};
  const auto written = write_changes(report,
                                     paired_photo(pair.first, options.of_first),
                                     paired_photo(pair.second, options.of_second),
                                     options.out);
  return told(
      options,
      written,
      terminal,
      [&] { return comparison_json(report); },
      [&] { return changes_summary(report, options.out, terminal); });
}

}  // namespace

void add_compare_command(CLI::App& app, Dispatch& dispatch) {
  const auto typed = std::make_shared<TypedPair>();
  CLI::App* command = app.add_subcommand(
      "compare", "Compare two photos of one core's face: which spots are new, grown, steady, shrunk, gone.");
  add_pair_options(*command, *typed, "BEFORE", "AFTER");
  command->footer(kFooter);
  command->callback([typed, &dispatch] {
    dispatch.run = [options = resolved_pair(*typed)](Terminal& terminal) {
      return run_compare(options, terminal);
    };
  });
}

ExitStatus run_compare(const PairOptions& options, Terminal& terminal) {
  return run_pair(options, "comparison.csv", terminal, [&](const RegisteredPair& pair) {
    return conclude(options, pair, terminal);
  });
}

}  // namespace corefleck
