// Known types through the whole chain: the distortion and the scales they give against the
// renderer's truth, over random scenes whose request names the type.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>

#include "pipeline/inspect.h"
#include "tests/numbers/case.h"

namespace crestgate::numbers {
namespace {

ImplantType type_of(const phantom::Implant& implant) {
  ImplantType type;
  type.name = "as drawn";
  type.outer_diameter_mm = implant.diameter_mm;
  type.platform_diameter_mm = implant.platform_diameter_mm;
  type.thread_pitch_mm = implant.thread.pitch_mm;
  type.starts = implant.thread.starts;
  type.length_mm = implant.length_mm;
  type.handedness = implant.thread.right_handed ? "right" : "left";
  type.attribute = "StudyDescription";
  type.contains = "radiograph";
  return type;
}

int scenes() { return std::getenv("CRESTGATE_ALL_SCENES") ? 80 : 12; }

TEST(KnownTypes, DistortionAndScaleHoldTheirUncertainty) {
  constexpr std::uint64_t kFirst = 64000;
  int used = 0, ratio_covered = 0, across_covered = 0;
  for (int i = 0; i < scenes(); ++i) {
    phantom::Draw draw;
    draw.cut_share = draw.second_implant_share = draw.unthreaded_share = 0;
    draw.clipped_share = draw.mirrored_share = 0;
    const phantom::Scene scene = phantom::random_scene(kFirst + i, draw);
    Rules rules;
    rules.implant_types = {type_of(scene.implants[0])};
    const Case c = run_case(kFirst + i, scene, rules);
    const Implant* implant = c.found(0);
    if (!implant || implant->known_type.name.empty()) {
      std::printf("seed %d: %s\n", static_cast<int>(kFirst) + i,
                  implant ? implant->known_type.reason.c_str() : "implant not found");
      continue;
    }
    const ProjectionMeasures& p = implant->projection;
    if (!p.axial_to_transverse_scale) continue;
    ++used;
    const auto& t = c.truth.implants[0];
    const double truth = t.axial_px_per_mm * t.mm_per_px;
    const double u = p.axial_to_transverse_scale_expanded_uncertainty.value();
    ratio_covered += std::abs(*p.axial_to_transverse_scale - truth) <= u;
    const Quantity across = c.analysis.scale.mm_per_px.value();
    across_covered += std::abs(across.value - t.mm_per_px) <= across.expanded_uncertainty;
    std::printf("seed %d ratio %.3f true %.3f U %.3f; mm/px %+.2f %% U %.2f %% (%s)\n",
                static_cast<int>(kFirst) + i, *p.axial_to_transverse_scale, truth, u,
                100 * (across.value / t.mm_per_px - 1),
                100 * across.expanded_uncertainty / across.value, c.analysis.scale.source.c_str());
  }
  std::printf("used %d of %d, ratio covered %d, scale covered %d\n", used, scenes(), ratio_covered,
              across_covered);
  ASSERT_GE(used, scenes() / 2);
  EXPECT_GE(ratio_covered, 0.8 * used);
  EXPECT_GE(across_covered, 0.8 * used);
}

}  // namespace
}  // namespace crestgate::numbers
