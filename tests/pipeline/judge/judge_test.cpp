#include "pipeline/judge/judge.h"

#include <gtest/gtest.h>

#include "tests/pipeline/judge/case.h"

namespace crestgate {
namespace {

using judge_case::analysis;
using judge_case::judged;
using judge_case::reason;
using judge_case::rules_for;
using judge_case::tilt;

TEST(IntentChoice, FirstMatchingRuleDecidesWhateverTheCase) {
  Analysis a = analysis();
  a.acquisition.reason_texts = {{"StudyDescription", "SEATing check"}, {"SeriesDescription", "x"}};
  Rules rules;
  rules.intents = {{"SeriesDescription", "seat", Intent::follow_up},
                   {"StudyDescription", "seating", Intent::seating},
                   {"StudyDescription", "check", Intent::placement}};
  judge(a, rules, {});
  EXPECT_EQ(a.intent, Intent::seating);
  EXPECT_TRUE(a.intent_from_rule);
}

TEST(IntentChoice, InferredFromContentBothQuestionsAreShown) {
  Analysis a = analysis();
  tilt(a, 9);
  a.implants[0].joint.part_present = true;
  judge(a, Rules{}, {});
  EXPECT_EQ(a.intent, Intent::seating);
  EXPECT_FALSE(a.intent_from_rule);
  std::string all;
  for (const Reason& r : a.reasons) all += r.text + "\n";
  EXPECT_NE(all.find("as a seating view: repeat if justified"), std::string::npos) << all;
  EXPECT_NE(all.find("as a placement view: usable"), std::string::npos) << all;
  EXPECT_NE(all.find("inferred"), std::string::npos) << all;

  a.implants[0].joint.part_present = false;
  judge(a, Rules{}, {});
  EXPECT_EQ(a.intent, Intent::placement);
  EXPECT_EQ(a.verdict, Verdict::usable);
}

TEST(Judge, WithoutImplantNoImplantAlarm) {
  Analysis a = analysis();
  a.implants.clear();
  judge(a, Rules{}, {});
  EXPECT_EQ(a.intent, Intent::other);
  EXPECT_EQ(a.verdict, Verdict::usable);
  EXPECT_TRUE(a.findings.empty());
  a.quality.noise = 0.3;
  judge(a, Rules{}, {});
  EXPECT_EQ(a.verdict, Verdict::usable_with_limits);
  EXPECT_EQ(a.advice.find("epeat if"), std::string::npos) << a.advice;
}

TEST(Judge, APossibleImplantIsReportedNotJudged) {
  Analysis a = analysis();
  tilt(a, 12);
  a.implants[0].possible_only = true;
  a.implants[0].shape.confidence = 0.4;
  a.implants[0].joint.state = JointState::gap_visible;
  judge(a, Rules{}, {});
  EXPECT_EQ(a.verdict, Verdict::usable);
  EXPECT_TRUE(a.findings.empty());
  ASSERT_NE(reason(a, "detection.least_confidence"), nullptr);
  EXPECT_DOUBLE_EQ(reason(a, "detection.least_confidence")->value.value(), 0.4);
}

TEST(Judge, IntentOtherNeverAdvisesARepeatAndConstancyIsNotAssessable) {
  Analysis a = analysis();
  tilt(a, 14);
  a.quality.noise = 0.3;
  EXPECT_EQ(judged(a, Intent::other).verdict, Verdict::usable_with_limits);
  EXPECT_EQ(judged(a, Intent::constancy).verdict, Verdict::not_assessable);
  a.implants.clear();
  EXPECT_EQ(judged(a, Intent::constancy).verdict, Verdict::not_assessable);
  EXPECT_EQ(judged(a, Intent::seating).verdict, Verdict::not_assessable);
}

TEST(Judge, TheImageIsAsItsWorstImplantInView) {
  Analysis a = analysis();
  a.implants.push_back(a.implants[0]);
  a.implants[1].id = 2;
  a.implants[1].projection.vertical_angle_deg = Quantity{-9, 0.5};
  Analysis j = judged(a, Intent::seating);
  EXPECT_EQ(j.implants[0].verdict, Verdict::usable);
  EXPECT_EQ(j.implants[1].verdict, Verdict::repeat_if_justified);
  EXPECT_EQ(j.verdict, Verdict::repeat_if_justified);
  EXPECT_NE(j.advice.find("implant no. 2: raise"), std::string::npos) << j.advice;
  // A neighbour whose platform is cut off is not what the image was taken for.
  a.implants[1].shape.platform_in_view = false;
  j = judged(a, Intent::seating);
  EXPECT_EQ(j.implants[1].verdict, Verdict::not_assessable);
  EXPECT_EQ(j.verdict, Verdict::usable);
}

TEST(Judge, RulesOnTheWholeImageAreListedOnce) {
  Analysis a = analysis();
  a.implants.push_back(a.implants[0]);
  a.implants[1].id = 2;
  judge(a, Rules{}, {});
  int noise = 0;
  for (const Reason& r : a.reasons) noise += r.rule == "exposure.largest_noise";
  EXPECT_EQ(noise, 1);
}

// Wording: one line, short, and none of the words that promise more than an image can.
TEST(Judge, AdviceIsOneShortCautiousLine) {
  for (Intent intent :
       {Intent::seating, Intent::placement, Intent::follow_up, Intent::constancy, Intent::other})
    for (double angle : {0.0, 4.0, -9.0, 14.0})
      for (bool resolved : {true, false})
        for (int attempt : {1, 2}) {
          Analysis a = analysis();
          tilt(a, angle, 2.5);
          a.implants[0].projection.direction_resolved = resolved;
          a = judged(a, intent, attempt);
          EXPECT_FALSE(a.advice.empty());
          EXPECT_EQ(a.advice.find('\n'), std::string::npos);
          EXPECT_LE(a.advice.size(), 300U) << a.advice;
          std::string all = a.advice;
          for (const Reason& r : a.reasons) {
            EXPECT_FALSE(r.rule.empty());
            EXPECT_FALSE(r.text.empty());
            all += "\n" + r.text;
          }
          for (const char* word : {"safe", "good", "Good", "perfect", "nan", "inf "})
            EXPECT_EQ(all.find(word), std::string::npos) << word << " in " << all;
        }
}

}  // namespace
}  // namespace crestgate
