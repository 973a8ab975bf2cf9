// A site followed up with jig and step wedge while processing and bone both changed: the wedge
// ties the grey values of the two images, and the crest's change lies in its U.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>

#include "pipeline/followup/followup.h"
#include "tests/numbers/pair_scenes.h"
#include "tests/support/jig.h"

namespace crestgate::numbers {
namespace {

Rules with_wedge() {
  Rules rules;
  rules.jig = Jig{2.0, 4.0, 0.05, 1.0};
  rules.step_wedge = StepWedge{6, 1.0, 1.6, 3.0};
  return rules;
}

/// No crown: the jig needs its place, 2.8 mm coronal of the platform.
phantom::Scene site_with_wedge(std::uint64_t seed) {
  phantom::Scene s = site_scene(seed);
  s.teeth.clear();
  s.items.clear();
  phantom::Implant& implant = s.implants[0];
  implant.crown.present = false;
  implant.abutment.form = phantom::AbutmentForm::cover_screw;
  s.processing.equalise = 0;
  s.beam.in_plane_turn_deg = std::remainder(s.beam.in_plane_turn_deg, 180.0);
  s.beam.site_column_fraction = 0.5;
  s.detector.columns = static_cast<int>(22 / s.detector.pixel_mm);
  s.detector.rows = static_cast<int>(31 / s.detector.pixel_mm);
  s.beam.site_row_fraction = 0.65;
  const phantom::Place place{-4, -3, 2.8, 0, 0};
  const Rules rules = with_wedge();
  phantom::add_items(phantom::jig_items(*rules.jig, place), &s);
  phantom::add_items(phantom::step_wedge_items(*rules.step_wedge, *rules.jig, place), &s);
  return s;
}

TEST(StepWedgePairs, TieTheGreyValuesThoughBoneAndProcessingChanged) {
  const Rules rules = with_wedge();
  int compared = 0, tied = 0, given = 0, outside = 0;
  const int sites = std::getenv("CRESTGATE_ALL_SCENES") ? 40 : 8;
  for (std::uint64_t seed = 930000; seed < 930000U + static_cast<unsigned>(sites); ++seed) {
    const phantom::Scene scene = site_with_wedge(seed);
    phantom::Scene later = follow_up_scene(scene, seed, 1, "jig", 0.3, 0.0);
    later.processing.gamma *= seed % 2 ? 0.8 : 1.25;
    later.bone.trabecular_density *= 1.2;
    const SeenSite before = see_site(scene, rules), now = see_site(later, rules);
    const Comparison c = compare_with({now.frame, now.result.analysis},
                                      {before.frame, before.result.analysis}, rules)
                             .comparison;
    if (c.implants.size() != 1 || c.state != Comparison::State::compared) continue;
    ++compared;
    const ImplantComparison& pair = c.implants[0];
    if (!pair.wedge_steps) {
      std::printf("seed %d: %s / %s\n", static_cast<int>(seed),
                  before.result.analysis.step_wedge.result.c_str(),
                  now.result.analysis.step_wedge.result.c_str());
      continue;
    }
    ++tied;
    EXPECT_GE(*pair.wedge_steps, 3);
    EXPECT_EQ(c.reasons.back().find("implant"), 0U) << c.reasons.back();
    for (const bool left : {true, false}) {
      const CrestChange& change = left ? pair.crest.left : pair.crest.right;
      const auto& was =
          left ? before.truth.implants[0].crest_left_mm : before.truth.implants[0].crest_right_mm;
      const auto& is =
          left ? now.truth.implants[0].crest_left_mm : now.truth.implants[0].crest_right_mm;
      if (!change.change_mm || !was || !is) continue;
      ++given;
      const double error = *change.change_mm - (*is - *was);
      outside += std::abs(error) > *change.expanded_uncertainty_mm;
      std::printf("seed %d: change %.3f, error %+.3f, U %.3f, wedge moved the map by %.3f\n",
                  static_cast<int>(seed), *change.change_mm, error, *change.expanded_uncertainty_mm,
                  *pair.wedge_correction);
    }
  }
  std::printf("%d compared, %d tied, %d changes, %d outside U\n", compared, tied, given, outside);
  ASSERT_GE(compared, sites / 2);
  EXPECT_GE(tied, 0.7 * compared);
  EXPECT_LE(outside, 0.05 * given + 2.6 * std::sqrt(0.0475 * given));
}

}  // namespace
}  // namespace crestgate::numbers
