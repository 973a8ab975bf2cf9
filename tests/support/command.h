// Runs an independent tool and keeps what it said.
#pragma once
#include <sys/wait.h>

#include <cstdio>
#include <string>

namespace crestgate {

struct Outcome {
  int exit_code = -1;  ///< -1: could not be run, or ended by a signal
  std::string output;  ///< standard output and standard error
};

inline Outcome run(const std::string& command) {
  Outcome result;
  FILE* pipe = popen((command + " 2>&1").c_str(), "r");
  if (pipe == nullptr) return result;
  char buffer[4096];
  while (std::fgets(buffer, sizeof buffer, pipe) != nullptr) result.output += buffer;
  const int status = pclose(pipe);
  if (WIFEXITED(status)) result.exit_code = WEXITSTATUS(status);
  return result;
}

}  // namespace crestgate
