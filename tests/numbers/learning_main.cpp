#include "tests/numbers/learning_main.h"

#include <CLI/CLI.hpp>

namespace crestgate::numbers {

int write_learning_file(int argc, char** argv, const LearningFile& file) {
  CLI::App app{"Writes what a net is learned from"};
  app.require_subcommand(1);
  std::uint64_t first = 0;
  int count = 0;
  std::string folder, out;
  for (const std::string& kind : file.kinds) {
    CLI::App* scenes = app.add_subcommand(kind, "seeded scenes of this kind");
    scenes->add_option("FIRST_SEED", first)->required();
    scenes->add_option("COUNT", count)->required();
    scenes->add_option("OUT", out)->required();
  }
  CLI::App* images = app.add_subcommand("folder", "images of another simulator, truth.json");
  images->add_option("DIR", folder)->required()->check(CLI::ExistingDirectory);
  images->add_option("OUT", out)->required();
  CLI11_PARSE(app, argc, argv);
  if (images->parsed())
    file.of_folder(folder, out);
  else
    file.of_scenes(app.get_subcommands().front()->get_name(), first, count, out);
  return 0;
}

}  // namespace crestgate::numbers
