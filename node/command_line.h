// The command line: what may be asked, and the help text. Parsing only; see commands.h for doing.
#pragma once
#include <string>
#include <vector>

#include "node/exit_status.h"

namespace crestgate {

struct CommandLine {
  enum class Command { none, serve, inspect, check_rules, status, worker };
  Command command = Command::none;
  std::string config_file;         ///< serve, status
  std::vector<std::string> files;  ///< inspect
  bool json = false;
  std::string rules_file;  ///< inspect, check-rules; empty: built-in rules
  std::string picture_folder, objects_folder;

  /// With command none: what to print and with which code to end.
  std::string message;
  bool message_is_error = false;
  ExitStatus exit = ExitStatus::ok;
};

CommandLine parse_command_line(int argc, const char* const* argv);

}  // namespace crestgate
