// Scenes of one site exposed twice, and what the pipeline makes of one of them.
#pragma once
#include <cstdint>
#include <string>

#include "tests/numbers/case.h"

namespace crestgate::numbers {

/// A site as one would follow it up: one implant, platform in view, a part narrower than it or
/// none.
phantom::Scene site_scene(std::uint64_t seed);

/// Exposed again, `number` telling the exposures apart. "jig": angles within 1 degree, else 8.
phantom::Scene follow_up_scene(const phantom::Scene& baseline, std::uint64_t seed, int number,
                               const std::string& setting, double left_mm, double right_mm);

struct SeenSite {
  phantom::Truth truth;
  Frame frame;
  Case result;
};
SeenSite see_site(const phantom::Scene& scene, const Rules& rules = {});

}  // namespace crestgate::numbers
