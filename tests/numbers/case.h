// One scene through the whole chain: render -> DICOM bytes -> read -> inspect, with its truth
// beside the result. Shared by the property tests and the accuracy report, so that both count the
// same.
#pragma once
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "config/rules.h"
#include "pipeline/image/analysis.h"
#include "tests/support/random_scene.h"
#include "tests/support/render.h"

namespace crestgate::numbers {

struct Case {
  std::uint64_t seed = 0;
  phantom::Scene scene;
  phantom::Truth truth;
  Analysis analysis;
  /// The implant the pipeline judged (confidence above the rule) where truth has one, or nullptr.
  const Implant* found(std::size_t truth_index) const;
  /// Judged implants that match nothing true.
  int false_implants() const;
};

Case run_case(std::uint64_t seed, const phantom::Scene& scene, const Rules& rules = {});

/// work_on(0) .. work_on(count - 1), by all cores.
void in_parallel(int count, const std::function<void(int)>& work_on);

/// What a site that takes such an image has in its rules.
using RulesOf = std::function<Rules(const phantom::Scene&)>;

/// Cases of seeds first .. first + count - 1, worked on by all cores, in the order of seeds.
/// Without `rules` the shipped ones.
std::vector<Case> run_cases(std::uint64_t first, int count,
                            const std::function<phantom::Scene(std::uint64_t)>& make,
                            const RulesOf& rules = {});

}  // namespace crestgate::numbers
