// crestgate_render: scene descriptions -> DICOM images, with the truth in a sidecar beside each.
// Exit: 0 all written, 1 a scene could not be rendered or written, 64 wrong command line.
#include <CLI/CLI.hpp>
#include <cstdio>
#include <exception>
#include <filesystem>
#include <string>
#include <vector>

#include "tests/support/dicom_writer.h"
#include "tests/support/render.h"
#include "tests/support/scene_json.h"

int main(int argc, char** argv) {
  namespace fs = std::filesystem;
  namespace phantom = crestgate::phantom;
  CLI::App app{"Renders scenes (JSON) as DICOM images: NAME.dcm and its truth, NAME.truth.json."};
  std::vector<std::string> scenes;
  std::string folder = ".";
  std::string date;
  app.add_option("SCENE", scenes, "Scene files")->required()->check(CLI::ExistingFile);
  app.add_option("--out", folder, "Folder for the images; made if it is not there");
  app.add_option("--date", date, "Study date (YYYYMMDD) instead of the scene's own")
      ->check(CLI::Validator(
          [](const std::string& text) {
            const bool good =
                text.size() == 8 && text.find_first_not_of("0123456789") == std::string::npos;
            return good ? std::string() : std::string("not YYYYMMDD");
          },
          "YYYYMMDD"));
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    return app.exit(e) == 0 ? 0 : 64;
  }
  try {
    fs::create_directories(folder);
    for (const std::string& path : scenes) {
      phantom::Scene scene = phantom::read_scene(path);
      if (!date.empty()) scene.identity.date = date;
      const phantom::Rendered rendered = phantom::render(scene);
      const fs::path image = fs::path(folder) / fs::path(path).stem();
      phantom::write_dicom(rendered, scene, image.string() + ".dcm");
      phantom::write_truth(rendered, image.string() + ".truth.json");
    }
  } catch (const std::exception& e) {
    std::fprintf(stderr, "crestgate_render: %s\n", e.what());
    return 1;
  }
  return 0;
}
