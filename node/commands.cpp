#include "node/commands.h"

#include <ostream>

#include "config/load.h"
#include "node/daemon.h"
#include "node/log.h"
#include "node/worker.h"

namespace crestgate {

ExitStatus check_rules(const std::string& file, std::ostream& out, std::ostream& err) {
  const Loaded<Rules> rules = load_rules_file(file);
  if (!rules.ok()) {
    err << rules.report;
    return ExitStatus::input_unusable;
  }
  out << file << ": ok\n"
      << "  mode:   " << (rules.value.mode == Mode::live ? "live" : "trial") << "\n"
      << "  words:  " << rules.value.words.name() << "\n"
      << "  digest: " << rules.value.digest << "\n";
  return ExitStatus::ok;
}

ExitStatus run_command(const CommandLine& line, std::ostream& out, std::ostream& err) {
  switch (line.command) {
    case CommandLine::Command::none:
      (line.message_is_error ? err : out) << line.message;
      return line.exit;
    case CommandLine::Command::worker:
      return static_cast<ExitStatus>(run_worker_child());
    case CommandLine::Command::inspect:
      return inspect_files(line, out, err);
    case CommandLine::Command::check_rules:
      return check_rules(line.rules_file, out, err);
    case CommandLine::Command::status:
      return print_status(line.config_file, out, err);
    case CommandLine::Command::serve:
      break;
  }
  const Loaded<Settings> settings = load_settings_file(line.config_file);
  if (!settings.ok()) {
    err << settings.report;
    return ExitStatus::input_unusable;
  }
  return static_cast<ExitStatus>(serve(settings.value));
}

}  // namespace crestgate
