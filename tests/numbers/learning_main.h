// What the programs that write what a net is learned from have in common.
#pragma once
#include <cstdint>
#include <functional>
#include <nlohmann/json.hpp>
#include <string>
#include <utility>
#include <vector>

#include "pipeline/read/read.h"
#include "tests/support/render.h"

namespace crestgate::numbers {

/// Writes the file named last: from scenes of a kind, or from a folder with truth.json.
struct LearningFile {
  std::vector<std::string> kinds;
  std::function<void(const std::string& kind, std::uint64_t first_seed, int count,
                     const std::string& out)>
      of_scenes;
  std::function<void(const std::string& folder, const std::string& out)> of_folder;
};

///   PROGRAM KIND FIRST_SEED COUNT OUT   or   PROGRAM folder DIR OUT; returns the exit code.
int write_learning_file(int argc, char** argv, const LearningFile& file);

/// The same; `Writer` is made of the file's name.
template <class Writer>
int write_learning_file(int argc, char** argv, std::vector<std::string> kinds,
                        void (*scenes)(const std::string& kind, std::uint64_t first_seed, int count,
                                       Writer& writer),
                        void (*of_folder)(const std::string& folder, Writer& writer)) {
  LearningFile file;
  file.kinds = std::move(kinds);
  file.of_scenes = [scenes](const std::string& kind, std::uint64_t first, int count,
                            const std::string& out) {
    Writer writer(out);
    scenes(kind, first, count, writer);
  };
  file.of_folder = [of_folder](const std::string& folder, const std::string& out) {
    Writer writer(out);
    of_folder(folder, writer);
  };
  return write_learning_file(argc, argv, file);
}

/// Every image of another simulator's folder, by all cores, with what truth.json has for it.
/// Throws std::runtime_error naming the file it cannot use.
using WorkOnImage = std::function<void(const std::string& name, const ReadImage& image,
                                       const nlohmann::json& truth)>;
void each_in_folder(const std::string& folder, const WorkOnImage& work_on);

/// Every scene of the seeds first, first + 1, ..., rendered, by all cores.
void each_scene(std::uint64_t first, int count,
                const std::function<phantom::Scene(std::uint64_t seed)>& make,
                const std::function<void(std::uint64_t seed, const phantom::Scene& scene,
                                         const phantom::Rendered& rendered)>& work_on);

/// Of one implant of such a truth.
Point platform_px_of(const nlohmann::json& implant);

/// What the header of a scene's image would say of pixel size and distances.
Acquisition acquisition_of(const phantom::Scene& scene);

}  // namespace crestgate::numbers
