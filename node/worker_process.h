// The parent's side of a worker child: starts the same binary as `crestgate worker`, with the image
// as descriptor 0, the job as descriptor 3, a pipe as descriptor 1 and nothing else, under resource
// limits. A crash, a loop or hunger for memory costs that one image. Thread-safe.
#pragma once
#include <string>

#include "config/status.h"
#include "node/fs.h"

namespace crestgate {

struct WorkerLimits {
  int time_limit_s = 60;  ///< of CPU; three times that by the wall clock
  int memory_limit_mb = 2048;
};

/// Exit code of a child that ran out of memory.
constexpr int kWorkerOutOfMemory = 71;

/// What the child wrote to its pipe (a bundle, not yet decoded). Errors: unavailable (no child
/// could be started: try again later), timeout, too_large (memory), internal (crash, with the
/// signal).
Result<Bytes> run_worker(int image_fd, const std::string& job_json, const WorkerLimits& limits,
                         const std::string& program = "/proc/self/exe");

}  // namespace crestgate
