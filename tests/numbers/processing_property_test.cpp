// Pairs of exposures of one site, rendered: processing that changed is said, exposure, noise, bone
// and projection that changed are not taken for it. A law over seeds that the rule's default was
// not chosen on (910000-910009).
#include <gtest/gtest.h>

#include "pipeline/followup/followup.h"
#include "tests/numbers/pair_scenes.h"

namespace crestgate::numbers {
namespace {

struct Counts {
  int known = 0, changed = 0;
};

void count(const SeenSite& before, const phantom::Scene& scene, Counts& counts) {
  const SeenSite now = see_site(scene);
  Analysis analysis = now.result.analysis;
  analysis.comparisons = {compare_with({now.frame, now.result.analysis},
                                       {before.frame, before.result.analysis}, Rules{})
                              .comparison};
  settle_comparisons(analysis, Rules{});
  const ProcessingState state = analysis.comparisons[0].processing;
  counts.known += state != ProcessingState::not_known;
  counts.changed += state == ProcessingState::changed;
  if (state == ProcessingState::changed) {
    EXPECT_EQ(analysis.findings.back().kind, "processing changed");
  }
}

TEST(Processing, AnotherGammaIsSaidAnotherExposureIsNot) {
  constexpr std::uint64_t kFirst = 920000, kSites = 8;
  Counts same, other;
  for (std::uint64_t seed = kFirst; seed < kFirst + kSites; ++seed) {
    const phantom::Scene scene = site_scene(seed);
    const SeenSite before = see_site(scene);
    count(before, follow_up_scene(scene, seed, 1, "jig", 0.0, 0.0), same);
    count(before, follow_up_scene(scene, seed, 2, "jig", 1.0, 0.6), same);
    count(before, follow_up_scene(scene, seed, 3, "freehand", 0.3, 0.3), same);
    for (const double gamma : {0.7, 1.45}) {
      phantom::Scene changed = follow_up_scene(scene, seed, 1, "jig", 0.0, 0.0);
      changed.processing.gamma *= gamma;
      count(before, changed, other);
    }
  }
  RecordProperty("unchanged_pairs", same.known);
  RecordProperty("unchanged_said_changed", same.changed);
  RecordProperty("gamma_pairs", other.known);
  RecordProperty("gamma_said_changed", other.changed);
  std::printf("unchanged: %d of %d said changed; gamma: %d of %d\n", same.changed, same.known,
              other.changed, other.known);
  ASSERT_GE(same.known, 16);
  ASSERT_GE(other.known, 12);
  EXPECT_EQ(same.changed, 0) << "of " << same.known;
  EXPECT_GE(other.changed, 0.8 * other.known) << "of " << other.known;
}

}  // namespace
}  // namespace crestgate::numbers
