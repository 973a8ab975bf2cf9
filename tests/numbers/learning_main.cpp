#include "tests/numbers/learning_main.h"

#include <CLI/CLI.hpp>
#include <fstream>

#include "tests/numbers/case.h"
#include "tests/numbers/extra_numbers.h"

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

void each_in_folder(const std::string& folder, const WorkOnImage& work_on) {
  std::ifstream file(folder + "/truth.json");
  if (!file) throw std::runtime_error(folder + "/truth.json: cannot be opened");
  const auto truth = nlohmann::json::parse(file);
  std::vector<std::string> names;
  for (const auto& [name, t] : truth.items()) names.push_back(name);
  in_parallel(static_cast<int>(names.size()), [&](int i) {
    const std::string& name = names[static_cast<std::size_t>(i)];
    work_on(name, read_file(folder + "/" + name + ".dcm"), truth[name]);
  });
}

void each_scene(std::uint64_t first, int count,
                const std::function<phantom::Scene(std::uint64_t)>& make,
                const std::function<void(std::uint64_t, const phantom::Scene&,
                                         const phantom::Rendered&)>& work_on) {
  in_parallel(count, [&](int i) {
    const std::uint64_t seed = first + static_cast<std::uint64_t>(i);
    const phantom::Scene scene = make(seed);
    work_on(seed, scene, phantom::render(scene));
  });
}

Point platform_px_of(const nlohmann::json& implant) {
  return {implant["platform_px"][0].get<double>(), implant["platform_px"][1].get<double>()};
}

Acquisition acquisition_of(const phantom::Scene& scene) {
  Acquisition a;
  a.spacing = {scene.detector.pixel_mm, scene.detector.pixel_mm, "imager"};
  a.source_to_patient_mm = scene.beam.source_to_site_mm;
  a.source_to_detector_mm = scene.beam.source_to_site_mm + scene.beam.site_to_detector_mm;
  return a;
}

}  // namespace crestgate::numbers
