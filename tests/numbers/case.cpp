#include "tests/numbers/case.h"

#include <unistd.h>

#include <atomic>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <stdexcept>
#include <thread>

#include "pipeline/inspect.h"
#include "pipeline/read/read.h"
#include "tests/support/dicom_writer.h"
#include "tests/support/same_implant.h"

namespace crestgate::numbers {

const Implant* Case::found(std::size_t truth_index) const {
  for (const Implant& implant : analysis.implants)
    if (!implant.possible_only &&
        lies_on(implant.shape, truth.implants.at(truth_index), analysis.rows, analysis.columns))
      return &implant;
  return nullptr;
}

int Case::false_implants() const {
  int n = 0;
  for (const Implant& implant : analysis.implants) {
    bool matched = implant.possible_only;
    for (const auto& t : truth.implants)
      matched = matched || lies_on(implant.shape, t, analysis.rows, analysis.columns);
    n += matched ? 0 : 1;
  }
  return n;
}

Case run_case(std::uint64_t seed, const phantom::Scene& scene, const Rules& rules) {
  Case result;
  result.seed = seed;
  result.scene = scene;
  const phantom::Rendered rendered = phantom::render(scene);
  result.truth = rendered.truth;
  const auto path = std::filesystem::temp_directory_path() /
                    ("crestgate-case-" + std::to_string(getpid()) + "-" + std::to_string(seed));
  phantom::write_dicom(rendered, scene, path.string());
  std::ifstream file(path, std::ios::binary);
  const std::vector<std::uint8_t> bytes{std::istreambuf_iterator<char>(file), {}};
  std::filesystem::remove(path);
  const auto image = read_image(bytes);
  if (!image.ok())
    throw std::runtime_error("seed " + std::to_string(seed) + ": " + image.status().text);
  result.analysis = inspect(image.value().frame, image.value().acquisition, rules);
  return result;
}

void in_parallel(int count, const std::function<void(int)>& work_on) {
  std::atomic<int> next{0};
  const auto work = [&] {
    for (int i = next++; i < count; i = next++) work_on(i);
  };
  std::vector<std::thread> threads;
  for (unsigned t = 1; t < std::max(1U, std::thread::hardware_concurrency()); ++t)
    threads.emplace_back(work);
  work();
  for (auto& thread : threads) thread.join();
}

std::vector<Case> run_cases(std::uint64_t first, int count,
                            const std::function<phantom::Scene(std::uint64_t)>& make,
                            const RulesOf& rules) {
  std::vector<Case> cases(count);
  in_parallel(count, [&](int i) {
    const phantom::Scene scene = make(first + i);
    cases[i] = run_case(first + i, scene, rules ? rules(scene) : Rules());
  });
  return cases;
}

}  // namespace crestgate::numbers
