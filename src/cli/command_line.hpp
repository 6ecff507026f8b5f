#pragma once

#include "exit_status.hpp"
#include "terminal.hpp"

namespace corefleck {

/// Parses, runs the command, makes one line of whatever went wrong. Never throws.
[[nodiscard]] ExitStatus run_command_line(int argc, const char* const* argv, Terminal& terminal);

}  // namespace corefleck
