#include "command_line.hpp"

#include <malloc.h>

#include <climits>
#include <csignal>

namespace {

/// What one stage frees, the next one uses. By default planes of megabytes go back to the system and come
/// anew, which has to clear them page by page: half of all that the system does for a run. One arena for all
/// threads, since freed memory of one serves no other. Refused, it is slower and nothing else.
void keep_freed_memory() {
#ifdef __GLIBC__
  mallopt(M_ARENA_MAX, 1);
  mallopt(M_MMAP_MAX, 0);
  mallopt(M_TRIM_THRESHOLD, INT_MAX);
#endif
}

}  // namespace

int main(int argc, char** argv) {
  keep_freed_memory();
  // A reader of stdout who leaves early must not end the run before its files are written.
  std::signal(SIGPIPE, SIG_IGN);
  const auto status = corefleck::run_command_line(argc, argv, corefleck::Terminal::of_process());
  return static_cast<int>(status);
}
