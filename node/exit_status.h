// The process exit codes of crestgate, documented in --help.
#pragma once

namespace crestgate {

enum class ExitStatus : int {
  ok = 0,
  failed = 1,          ///< the program could not do its work (network, disk, internal)
  input_unusable = 2,  ///< some input (image, rules or settings file) could not be used
  usage = 64,          ///< the command line was wrong (sysexits.h EX_USAGE)
};

}  // namespace crestgate
