// A repeat against the exposure before it, and which kind of view a visit still lacks.
#include "node/report/visit.h"

#include <gtest/gtest.h>

#include "node/report/codes.h"
#include "tests/node/report/cases.h"

namespace crestgate {
namespace {

Exposure exposure(int verdict, std::optional<Quantity> angle) {
  Exposure e;
  e.verdict = verdict;
  e.angle_deg = angle;
  return e;
}

RepeatResult result(const Exposure& before, const Exposure& now) {
  return compare_repeat({1, before, false, false}, now).result;
}

TEST(Repeat, TheVerdictDecidesThenTheAngleBeyondItsUncertainty) {
  const Quantity far{9.0, 1.5}, near{2.0, 1.5}, almost{7.5, 1.5};
  EXPECT_EQ(result(exposure(1, far), exposure(0, far)), RepeatResult::better);
  EXPECT_EQ(result(exposure(0, near), exposure(2, {})), RepeatResult::worse);
  EXPECT_EQ(result(exposure(1, far), exposure(1, near)), RepeatResult::better);
  EXPECT_EQ(result(exposure(1, near), exposure(1, far)), RepeatResult::worse);
  // 1.5 degrees less, but U of the difference is 2.1 degrees.
  EXPECT_EQ(result(exposure(1, far), exposure(1, almost)), RepeatResult::same);
  EXPECT_EQ(result(exposure(1, far), exposure(1, {})), RepeatResult::same);
}

TEST(Repeat, TheChangeCarriesTheUncertaintyOfBothReadings) {
  const RepeatComparison c = compare_repeat({2, exposure(1, Quantity{9.0, 3.0}), false, false},
                                            exposure(1, Quantity{2.0, 4.0}));
  EXPECT_EQ(c.attempt, 3);
  EXPECT_DOUBLE_EQ(c.angle_change_deg->value, -7.0);
  EXPECT_DOUBLE_EQ(c.angle_change_deg->expanded_uncertainty, 5.0);
}

TEST(Repeat, WithholdingFurtherRepeatsIsNoImprovement) {
  EXPECT_EQ(verdict_rank(Verdict::repeat_if_justified), verdict_rank(Verdict::usable_with_limits));
}

TEST(Repeat, TheTextNamesBothExposures) {
  const std::string text =
      repeat_text(compare_repeat({1, exposure(1, Quantity{9.04, 1.5}), false, false},
                                 exposure(0, Quantity{2.0, 1.2})),
                  Language());
  EXPECT_EQ(text,
            "Exposure 2 of this site compared with exposure 1: better (usable, before: with "
            "limits; angle 2.0 ± 1.2°, before: 9.0 ± 1.5°).");
}

TEST(Visit, ThePartsInViewSayWhichViewAnImageIs) {
  report_test::Case c = report_test::base_case("x");
  EXPECT_TRUE(summarise_exposure(c.analysis).seating_view);
  EXPECT_TRUE(summarise_exposure(c.analysis).placement_view);
  c.analysis.implants[0].shape.apex_in_view = false;
  EXPECT_FALSE(summarise_exposure(c.analysis).placement_view);
  c.analysis.implants[0].joint.state = JointState::not_assessable;
  EXPECT_FALSE(summarise_exposure(c.analysis).seating_view);
  c.analysis.implants[0].possible_only = true;
  EXPECT_FALSE(summarise_exposure(c.analysis).angle_deg);
}

TEST(Visit, TheAbsentKindIsNamed) {
  const Language text;
  EXPECT_EQ(visit_text({true, true}, text), "");
  EXPECT_NE(visit_text({true, false}, text).find("no placement view"), std::string::npos);
  EXPECT_NE(visit_text({false, true}, text).find("no seating view"), std::string::npos);
  EXPECT_NE(visit_text({false, false}, text).find("neither"), std::string::npos);
}

TEST(Visit, TheReportCarriesResultTextAndAbsentView) {
  for (const report_test::Case& c : report_test::all_cases()) {
    if (!c.context.repeat) continue;
    const std::string text = report_test::printed_report(c);
    for (const char* wanted :
         {codes::kRepeatResult.value, codes::kBetter.value, codes::kVisitViews.value,
          "compared with exposure 1", "no placement view"}) {
      EXPECT_NE(text.find(wanted), std::string::npos) << wanted;
    }
    return;
  }
  FAIL() << "no case with a repeat";
}

}  // namespace
}  // namespace crestgate
