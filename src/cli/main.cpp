#include "command_line.hpp"

#include <csignal>

int main(int argc, char** argv) {
  // A reader of stdout who leaves early must not end the run before its files are written.
  std::signal(SIGPIPE, SIG_IGN);
  const auto status = corefleck::run_command_line(argc, argv, corefleck::Terminal::of_process());
  return static_cast<int>(status);
}
