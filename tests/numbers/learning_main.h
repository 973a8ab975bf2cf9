// The command line of the programs that write what a net is learned from.
#pragma once
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

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

}  // namespace crestgate::numbers
