#include "pipeline/followup/processing_change.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "pipeline/followup/followup.h"
#include "pipeline/followup/tone_map.h"
#include "tests/pipeline/followup/drawn_tones.h"

namespace crestgate {
namespace {

Acquisition with(std::map<std::string, std::string> facts) {
  Acquisition a;
  a.processing_facts = std::move(facts);
  return a;
}

TEST(StatedProcessing, OnlyWhatBothStateCanDiffer) {
  const Acquisition before = with({{"ProcessingFunction", "endo"}, {"SoftwareVersions", "4.0"}});
  EXPECT_TRUE(stated_differences(before, before).empty());
  EXPECT_TRUE(stated_differences(with({{"PixelIntensityRelationship", "LOG"}}), before).empty());
  const auto all = stated_differences(with({{"SoftwareVersions", "4.1"}}), before);
  ASSERT_EQ(all.size(), 1U);
  EXPECT_EQ(all[0].attribute, "SoftwareVersions");
  EXPECT_EQ(all[0].now, "4.1");
  EXPECT_EQ(all[0].before, "4.0");
}

/// One implant; a comparison with that bend.
Analysis compared(std::optional<double> bend, std::optional<double> u) {
  Analysis a;
  Implant implant;
  implant.id = 1;
  a.implants = {implant};
  Comparison c;
  c.state = Comparison::State::compared;
  c.baseline_date = "20240110";
  ImplantComparison pair;
  pair.implant = 1;
  pair.tone_bend = bend;
  pair.tone_bend_expanded_uncertainty = u;
  c.implants = {pair};
  a.comparisons = {c};
  return a;
}

TEST(SettleProcessing, ABendCountsBeyondTheRuleWithItsWholeUncertainty) {
  const auto settled = [](std::optional<double> bend, std::optional<double> u) {
    Analysis a = compared(bend, u);
    settle_comparisons(a, Rules{});
    return a;
  };
  const Analysis changed = settled(0.05, 0.02);
  EXPECT_EQ(changed.comparisons[0].processing, ProcessingState::changed);
  ASSERT_EQ(changed.findings.size(), 1U);
  EXPECT_EQ(changed.findings[0].kind, "processing changed");
  EXPECT_NE(changed.findings[0].text.find("2024-01-10"), std::string::npos);
  ASSERT_EQ(changed.reasons.size(), 1U);
  EXPECT_EQ(changed.reasons[0].rule, "follow_up.largest_tone_bend");
  EXPECT_EQ(changed.reasons[0].value, 0.05);
  EXPECT_EQ(changed.reasons[0].limit, 0.02);
  for (const Analysis& a : {settled(0.05, 0.04), settled(0.015, 0.001)}) {
    EXPECT_EQ(a.comparisons[0].processing, ProcessingState::no_change_seen);
    EXPECT_TRUE(a.findings.empty());
    EXPECT_TRUE(a.reasons.empty());
  }
  EXPECT_EQ(settled({}, {}).comparisons[0].processing, ProcessingState::not_known);
  EXPECT_EQ(settled(0.3, {}).comparisons[0].processing, ProcessingState::not_known);
}

TEST(SettleProcessing, StatedDifferencesCountByRule) {
  Analysis a = compared(0.0, 0.01);
  a.comparisons[0].stated_processing = {{"SoftwareVersions", "4.1", "4.0"}};
  Analysis ignored = a;
  settle_comparisons(a, Rules{});
  EXPECT_EQ(a.comparisons[0].processing, ProcessingState::changed);
  ASSERT_EQ(a.reasons.size(), 1U);
  EXPECT_EQ(a.reasons[0].rule, "follow_up.stated_processing");
  EXPECT_NE(a.reasons[0].text.find("'4.1' now, '4.0' in the baseline"), std::string::npos);
  Rules rules;
  rules.follow_up.stated_processing = false;
  settle_comparisons(ignored, rules);
  EXPECT_EQ(ignored.comparisons[0].processing, ProcessingState::no_change_seen);
  EXPECT_TRUE(ignored.findings.empty());
}

TEST(SettleProcessing, OneFindingPerImageOfTheNewestBaselineAndNoneWithoutAnImplant) {
  Analysis a = compared(0.1, 0.01);
  a.comparisons.push_back(a.comparisons[0]);
  a.comparisons[1].baseline_date = "20250110";
  settle_comparisons(a, Rules{});
  ASSERT_EQ(a.findings.size(), 1U);
  EXPECT_NE(a.findings[0].text.find("2025-01-10"), std::string::npos);
  Analysis bare = compared(0.1, 0.01);
  bare.implants.clear();
  bare.comparisons[0].implants.clear();
  bare.comparisons[0].stated_processing = {{"SoftwareVersions", "4.1", "4.0"}};
  settle_comparisons(bare, Rules{});
  EXPECT_TRUE(bare.findings.empty());
  EXPECT_EQ(bare.comparisons[0].processing, ProcessingState::changed);
}

/// A smooth scene under noise; `gamma` of the second exposure, with another gain and offset.
ToneMap map_of(double gamma, unsigned seed) {
  std::mt19937 random(seed);
  const Frame before = drawn_tones(random, 3.0F, [](double g) { return g; });
  const Frame now =
      drawn_tones(random, 3.0F, [gamma](double g) { return 0.9 * std::pow(g, gamma) + 0.04; });
  const ImplantShape shape = drawn_body();
  const auto map = match_tones({now, before, shape, shape, Registration(), 0.05});
  EXPECT_TRUE(map && map->bend_expanded_uncertainty);
  return *map;
}

TEST(ToneBend, AGammaStandsOutOfNoiseGainAndOffsetDoNot) {
  const double limit = Rules{}.follow_up.largest_tone_bend;
  for (unsigned seed = 1; seed <= 10; ++seed) {
    const ToneMap same = map_of(1.0, seed), bent = map_of(1.5, seed);
    EXPECT_LT(same.bend - *same.bend_expanded_uncertainty, limit) << seed;
    EXPECT_GT(bent.bend - *bent.bend_expanded_uncertainty, limit) << seed;
  }
}

}  // namespace
}  // namespace crestgate
