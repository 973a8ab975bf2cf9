#include <gtest/gtest.h>

#include <cmath>

#include "pipeline/followup/crest_change.h"
#include "pipeline/followup/followup.h"

namespace crestgate {
namespace {

// Normal quantiles: any printed table, e.g. NIST/SEMATECH e-Handbook 1.3.6.7.1.
TEST(Holm, QuantilesOfTheNormalDistribution) {
  EXPECT_NEAR(normal_quantile(0.975), 1.959964, 1e-5);
  EXPECT_NEAR(normal_quantile(0.9875), 2.241403, 1e-5);
}

TEST(Holm, StepsDownAndStopsAtTheFirstFailure) {
  // Four sites: bounds 2.498, 2.394, 2.241, 1.960.
  const HolmResult r = holm({2.0, -2.6, 2.45, 2.2});
  EXPECT_EQ(r.resolved, (std::vector<bool>{false, true, true, false}));
  EXPECT_NEAR(r.multiple[1], 2.4977, 1e-3);
  EXPECT_NEAR(r.multiple[3], 2.2414, 1e-3);
  EXPECT_NEAR(r.multiple[0], 2.2414, 1e-3);  // not reached: held to the same bound
}

Comparison with(double left_mm, double right_mm, double u_mm, double years) {
  Comparison c;
  c.state = Comparison::State::compared;
  c.baseline_date = "20240110";
  c.years = years;
  c.early_period = years <= 1.0;
  ImplantComparison i;
  i.implant = 1;
  for (CrestChange* side : {&i.crest.left, &i.crest.right}) {
    side->change_mm = side == &i.crest.left ? left_mm : right_mm;
    side->expanded_uncertainty_mm = u_mm;
    side->state = CrestChange::State::within_error;
  }
  c.implants.push_back(i);
  return c;
}

TEST(Resolve, NeverAChangeSmallerThanItsUncertainty) {
  std::vector<Comparison> all{with(0.21, -0.6, 0.2, 2.0)};
  resolve_changes(all);
  const auto& crest = all[0].implants[0].crest;
  EXPECT_EQ(crest.right.state, CrestChange::State::gain);
  EXPECT_NEAR(*crest.right.rate_mm_per_year, -0.3, 1e-9);
  EXPECT_EQ(crest.left.state, CrestChange::State::loss);  // second step: 1.96, but |change| > U
  EXPECT_NEAR(*crest.left.smallest_resolvable_mm, 0.2, 1e-9);
  EXPECT_NEAR(*crest.right.smallest_resolvable_mm, 0.1 * 2.2414, 1e-4);
}

TEST(Resolve, OneSiteAmongSeveralNeedsMore) {
  std::vector<Comparison> all{with(0.21, 0.0, 0.2, 2.0)};
  resolve_changes(all);
  EXPECT_EQ(all[0].implants[0].crest.left.state, CrestChange::State::within_error);
  EXPECT_FALSE(all[0].implants[0].crest.left.rate_mm_per_year.has_value());
}

TEST(Settle, FindingAndYearlyRuleOnlyForResolvedLossAfterTheEarlyPeriod) {
  const auto settled = [](double change, double years) {
    Analysis a;
    a.reasons.push_back({"follow_up", 1, "not compared with a baseline", {}, {}, ""});
    a.comparisons = {with(change, 0.0, 0.2, years)};
    settle_comparisons(a, Rules{});
    return a;
  };
  const Analysis late = settled(0.8, 2.0);
  ASSERT_EQ(late.findings.size(), 1U);
  EXPECT_EQ(late.findings[0].kind, "bone change resolved");
  EXPECT_EQ(late.findings[0].side, "left");
  ASSERT_EQ(late.reasons.size(), 1U);  // the 'not compared' is gone, the yearly rule is there
  EXPECT_EQ(late.reasons[0].rule, "follow_up.largest_yearly_loss_mm");
  const Analysis early = settled(0.8, 0.9);
  EXPECT_EQ(early.findings.size(), 1U);
  EXPECT_TRUE(early.reasons.empty());
  EXPECT_TRUE(settled(0.1, 2.0).findings.empty());
}

}  // namespace
}  // namespace crestgate
