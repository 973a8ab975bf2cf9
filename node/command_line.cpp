#include "node/command_line.h"

#include <CLI/CLI.hpp>
#include <sstream>

#include "node/worker.h"

namespace crestgate {
namespace {

constexpr const char* kFooter = R"(
Examples:
  crestgate check-rules /etc/crestgate/rules.yaml
  crestgate serve --config /etc/crestgate/crestgate.yaml
  crestgate inspect image.dcm
  crestgate inspect --json --picture out --objects out *.dcm

Exit codes:
  0   done
  1   failed: network, disk, or an error inside crestgate
  2   some input could not be used: an image, a rule file or a settings file
  64  the command line was wrong

Signals to serve: TERM or INT finish the images in work and end; HUP reads the rule file again
(rules that are not valid are reported and the old ones stay in force).

crestgate is an aid, not a cleared medical device: it advises, the clinician decides.)";

}  // namespace

CommandLine parse_command_line(int argc, const char* const* argv) {
  CommandLine line;
  CLI::App app{
      "crestgate checks intraoral dental-implant radiographs: was the beam perpendicular to "
      "the implant,\ncan a joint gap be seen, can the crestal bone be measured?"};
  app.name("crestgate");
  app.require_subcommand(1);
  app.set_version_flag("--version", software_name(), "Print the version and end");
  app.set_help_flag("-h,--help", "Print this help and end; also: crestgate COMMAND --help");
  app.footer(kFooter);

  CLI::App* serve = app.add_subcommand(
      "serve", "Receive images over the network, judge them, send the results to the archive");
  serve->add_option("--config", line.config_file, "Settings file (YAML)")->required();

  CLI::App* inspect =
      app.add_subcommand("inspect", "Judge image files and print the result; no network");
  inspect->add_option("FILE", line.files, "DICOM files")->required();
  inspect->add_flag("--json", line.json, "Print a JSON array, one element per file in order");
  inspect->add_option("--rules", line.rules_file, "Rule file (YAML); without it: built-in rules");
  inspect->add_option("--picture", line.picture_folder,
                      "Write an annotated picture per image into this folder, NAME.png");
  inspect->add_option("--objects", line.objects_folder,
                      "Write the DICOM objects into this folder, NAME-NN-KIND.dcm");

  CLI::App* check = app.add_subcommand(
      "check-rules", "Check a rule file; every mistake is named with file, line and column");
  check->add_option("FILE", line.rules_file, "Rule file (YAML)")->required();

  CLI::App* status = app.add_subcommand(
      "status",
      "Print what is waiting, what was set aside and why, and whether the archive answers");
  status->add_option("--config", line.config_file, "Settings file (YAML)")->required();

  CLI::App* worker = app.add_subcommand("worker", "");
  worker->group("");  // hidden: started by crestgate itself

  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    std::ostringstream out, err;
    const int code = app.exit(error, out, err);
    line.message_is_error = code != 0;
    line.message = code == 0 ? out.str() : err.str();
    line.exit = code == 0 ? ExitStatus::ok : ExitStatus::usage;
    return line;
  }
  if (serve->parsed()) line.command = CommandLine::Command::serve;
  if (inspect->parsed()) line.command = CommandLine::Command::inspect;
  if (check->parsed()) line.command = CommandLine::Command::check_rules;
  if (status->parsed()) line.command = CommandLine::Command::status;
  if (worker->parsed()) line.command = CommandLine::Command::worker;
  return line;
}

}  // namespace crestgate
