#pragma once

#include "exit_status.hpp"
#include "terminal.hpp"

#include <functional>

namespace corefleck {

/// What the command line asked for: each command puts its work here once its options are complete.
struct Dispatch {
  std::function<ExitStatus(Terminal&)> run;
};

}  // namespace corefleck
