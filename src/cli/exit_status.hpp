#pragma once

namespace corefleck {

/// What the calling shell learns. Part of the contract: said in --help and in README.md.
enum class ExitStatus : int {
  ok = 0,          ///< every photo measured, cautions allowed; also after --help, --version
  failed = 1,      ///< some photo could not be measured, all others are written; or an internal error
  wrong_input = 2  ///< the command line or an input of the whole run is wrong, nothing is written
};

}  // namespace corefleck
