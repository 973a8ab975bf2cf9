// What each command does. Results go to `out`, complaints to `err`.
#pragma once
#include <iosfwd>

#include "node/command_line.h"

namespace crestgate {

ExitStatus run_command(const CommandLine& line, std::ostream& out, std::ostream& err);

/// `program`: the binary that knows the `worker` command; each file is read in a child of its own.
ExitStatus inspect_files(const CommandLine& line, std::ostream& out, std::ostream& err,
                         const std::string& program = "/proc/self/exe");
ExitStatus check_rules(const std::string& file, std::ostream& out, std::ostream& err);
ExitStatus print_status(const std::string& config_file, std::ostream& out, std::ostream& err);

}  // namespace crestgate
