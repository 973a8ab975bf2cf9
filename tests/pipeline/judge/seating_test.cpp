#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "tests/pipeline/judge/case.h"

namespace crestgate {
namespace {

using judge_case::analysis;
using judge_case::joint;
using judge_case::judged;
using judge_case::reason;
using judge_case::tilt;

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

TEST(Seating, AngleLimitOnBothSides) {
  const double limit = Rules{}.seating.largest_vertical_angle_deg;
  const struct {
    double angle, u;
    Verdict verdict;
  } cases[] = {{limit, 0.0, Verdict::usable},
               {-limit, 0.0, Verdict::usable},
               {std::nextafter(limit, 90), 0.0, Verdict::repeat_if_justified},
               {-std::nextafter(limit, 90), 0.0, Verdict::repeat_if_justified},
               {limit - 0.5, 0.5, Verdict::usable},
               {limit - 0.5, 0.5 + 1e-9, Verdict::usable_with_limits},
               {limit, 0.5, Verdict::usable_with_limits},
               {9.0, 4.0, Verdict::repeat_if_justified}};
  for (const auto& c : cases) {
    SCOPED_TRACE(testing::Message() << c.angle << " +/- " << c.u);
    Analysis a = analysis();
    tilt(a, c.angle, c.u);
    a = judged(a, Intent::seating);
    EXPECT_EQ(a.verdict, c.verdict);
    EXPECT_EQ(a.implants[0].verdict, c.verdict);
    const Reason* r = reason(a, "seating.largest_vertical_angle_deg");
    ASSERT_NE(r, nullptr);
    EXPECT_DOUBLE_EQ(r->value.value(), std::abs(c.angle));
    EXPECT_DOUBLE_EQ(r->limit.value(), limit);
    EXPECT_EQ(r->unit, "deg");
    EXPECT_EQ(r->implant, 1);
  }
}

TEST(Seating, AJointReadWithoutAScaleSaysSo) {
  const auto said = [](const Analysis& a) {
    for (const Reason& r : a.reasons)
      if (r.text == Rules{}.words.get("reason.scale_assumed")) return true;
    return false;
  };
  Analysis a = analysis();
  joint(a, 0.02, 0.02);
  EXPECT_FALSE(said(judged(a, Intent::seating)));
  a.implants[0].joint.scale_assumed = true;
  EXPECT_TRUE(said(judged(a, Intent::seating)));
}

TEST(Seating, HiddenGapLimitOnBothSides) {
  const double limit = Rules{}.seating.largest_hidden_gap_mm;
  Analysis a = analysis();
  joint(a, limit, 0.02);
  EXPECT_EQ(judged(a, Intent::seating).verdict, Verdict::usable);
  joint(a, std::nextafter(limit, 1), limit);
  EXPECT_EQ(judged(a, Intent::seating).verdict, Verdict::repeat_if_justified);
  joint(a, std::nextafter(limit, 1), std::nextafter(limit, 1), "blur");
  const Analysis bound = judged(a, Intent::seating);
  EXPECT_EQ(bound.verdict, Verdict::usable_with_limits);
  EXPECT_NE(bound.advice.find("bounded by blur"), std::string::npos) << bound.advice;
}

TEST(Seating, UnknownConnectionDecidesBetweenTheFamilies) {
  const double limit = Rules{}.seating.largest_hidden_gap_mm;
  Analysis a = analysis();
  joint(a, 0.5, 0.5, "blur");
  JointMeasures& j = a.implants[0].joint;
  j.state = JointState::no_gap_visible;
  j.design = "design unknown";
  j.smallest_visible_gap_conical_mm = 0.5;
  j.smallest_visible_gap_butt_mm = limit;
  const Analysis between = judged(a, Intent::seating);
  EXPECT_EQ(between.verdict, Verdict::not_assessable);
  EXPECT_EQ(between.advice.find("epeat if"), std::string::npos) << between.advice;
  j.smallest_visible_gap_butt_mm = std::nextafter(limit, 1);  // hidden in either family
  EXPECT_NE(judged(a, Intent::seating).verdict, Verdict::not_assessable);
  j.smallest_visible_gap_butt_mm = limit;
  j.design = "conical";  // known: its own limit counts
  EXPECT_NE(judged(a, Intent::seating).verdict, Verdict::not_assessable);
}

TEST(Seating, ARepeatThatWouldNotHelpIsNotAdvised) {
  Analysis a = analysis();
  tilt(a, 12);
  joint(a, 0.3, 0.2, "blur");
  a = judged(a, Intent::seating);
  EXPECT_EQ(a.verdict, Verdict::usable_with_limits);
  EXPECT_EQ(a.advice.find("epeat if"), std::string::npos) << a.advice;
  EXPECT_NE(a.advice.find("check by other means"), std::string::npos) << a.advice;
}

TEST(Seating, NoiseOrMotionOnlyMattersIfTheJointDoesNotShow) {
  Analysis a = analysis();
  a.quality.noise = 0.2;
  EXPECT_EQ(judged(a, Intent::seating).verdict, Verdict::repeat_if_justified);
  joint(a, 0.04, 0.02);
  EXPECT_EQ(judged(a, Intent::seating).verdict, Verdict::usable_with_limits);
  joint(a, 0.08, 0.02, "noise");
  const Analysis repeat = judged(a, Intent::seating);
  EXPECT_EQ(repeat.verdict, Verdict::repeat_if_justified);
  EXPECT_NE(repeat.advice.find("correct the exposure"), std::string::npos) << repeat.advice;

  a = analysis();
  a.quality.blur_sigma_px = 7;  // 0.14 mm
  EXPECT_EQ(judged(a, Intent::seating).verdict, Verdict::usable_with_limits);
  a.quality.motion_direction_deg = 90;
  const Analysis motion = judged(a, Intent::seating);
  EXPECT_EQ(motion.verdict, Verdict::repeat_if_justified);
  EXPECT_NE(motion.advice.find("still"), std::string::npos) << motion.advice;
}

TEST(Seating, RepeatsAreCountedAndEnd) {
  Analysis a = analysis();
  tilt(a, 9);
  const Analysis first = judged(a, Intent::seating, 1), second = judged(a, Intent::seating, 2);
  EXPECT_EQ(first.verdict, Verdict::repeat_if_justified);
  EXPECT_NE(first.advice.find("exposure 1"), std::string::npos) << first.advice;
  EXPECT_EQ(second.verdict, Verdict::usable_with_limits);
  EXPECT_NE(second.advice.find("judge clinically"), std::string::npos) << second.advice;
  ASSERT_NE(reason(second, "alerts.most_advised_repeats"), nullptr);
  EXPECT_EQ(reason(second, "alerts.most_advised_repeats")->value, 2);
}

TEST(Seating, AnOpenJointIsAFindingWhateverTheVerdict) {
  for (double angle : {1.0, 9.0}) {
    Analysis a = analysis();
    tilt(a, angle);
    joint(a, 0.03, 0.02);
    JointMeasures& j = a.implants[0].joint;
    j.state = JointState::gap_visible;
    j.gap_side_mm.right = j.gap_mm = 0.15;
    j.gap_expanded_uncertainty_mm = 0.04;
    a = judged(a, Intent::seating);
    EXPECT_EQ(a.verdict, angle > 6 ? Verdict::repeat_if_justified : Verdict::usable);
    ASSERT_EQ(a.findings.size(), 1U);
    EXPECT_EQ(a.findings[0].kind, "gap visible");
    EXPECT_EQ(a.findings[0].implant, 1);
    EXPECT_EQ(a.findings[0].side, "right");
    EXPECT_EQ(a.advice.find("Gap visible"), 0U) << a.advice;
    EXPECT_NE(a.advice.find("check seating before the patient leaves"), std::string::npos);
  }
}

TEST(Seating, MissingAndNotANumberMeasuresAreNotAssessable) {
  Analysis none = analysis();
  none.implants[0].projection.vertical_angle_deg.reset();
  none.implants[0].projection.reason = "no thread in view";
  none.quality.noise = 0.5;  // even so: nothing says that a repeat would help
  Analysis nan_angle = analysis(), nan_u = analysis();
  tilt(nan_angle, kNan);
  tilt(nan_u, 9, kNan);
  for (const Analysis& a : {none, nan_angle, nan_u}) {
    const Analysis j = judged(a, Intent::seating);
    EXPECT_EQ(j.verdict, Verdict::not_assessable);
    EXPECT_FALSE(reason(j, "seating.largest_vertical_angle_deg")->value);
  }
  Analysis nan_quality = analysis();
  nan_quality.quality.noise = kNan;
  nan_quality.quality.blur_sigma_px = kNan;
  nan_quality.scale.mm_per_px.reset();
  joint(nan_quality, kNan, kNan);
  const Analysis j = judged(nan_quality, Intent::seating);
  EXPECT_EQ(j.verdict, Verdict::usable);
  EXPECT_FALSE(reason(j, "exposure.largest_noise")->value);
  EXPECT_FALSE(reason(j, "seating.largest_hidden_gap_mm")->value);
}

TEST(Seating, PlatformOutOfViewIsNotAssessable) {
  Analysis a = analysis();
  tilt(a, 12);
  a.implants[0].shape.platform_in_view = false;
  EXPECT_EQ(judged(a, Intent::seating).verdict, Verdict::not_assessable);
  EXPECT_EQ(judged(a, Intent::follow_up).verdict, Verdict::not_assessable);
}

TEST(Seating, NothingMountedIsNoReasonForARepeat) {
  Analysis a = analysis();
  tilt(a, 12);
  a.implants[0].joint.reason = "nothing on the platform";
  EXPECT_EQ(judged(a, Intent::seating).verdict, Verdict::not_assessable);
  a.implants[0].joint.part_present = true;
  a.implants[0].joint.reason = "platform ellipse covers the joint";
  EXPECT_EQ(judged(a, Intent::seating).verdict, Verdict::repeat_if_justified);
  tilt(a, 1);
  EXPECT_EQ(judged(a, Intent::seating).verdict, Verdict::not_assessable);
}

TEST(FollowUp, HasItsOwnAngleLimitAndNeedsAScale) {
  const double limit = Rules{}.follow_up.largest_vertical_angle_deg;
  Analysis a = analysis();
  tilt(a, limit, 0);
  EXPECT_EQ(judged(a, Intent::follow_up).verdict, Verdict::usable);
  tilt(a, std::nextafter(limit, 90), 0);
  EXPECT_EQ(judged(a, Intent::follow_up).verdict, Verdict::repeat_if_justified);
  tilt(a, 1);
  a.scale.mm_per_px.reset();
  EXPECT_EQ(judged(a, Intent::follow_up).verdict, Verdict::usable_with_limits);
}

// The rule speaks of the joint's neighbourhood: a burnt-out far corner is none of its business.
TEST(Seating, ClippingCountsWhereTheJointIs) {
  Analysis a = analysis();
  joint(a, 0.03, 0.03);
  a.quality.clipped_low = 0.7;
  a.implants[0].clipped_at_joint = 0.02;
  EXPECT_EQ(judged(a, Intent::seating).verdict, Verdict::usable);
  a.quality.clipped_low = 0.0;
  a.implants[0].clipped_at_joint = 0.7;
  const Analysis over = judged(a, Intent::seating);
  EXPECT_EQ(over.verdict, Verdict::usable_with_limits);
  EXPECT_NEAR(reason(over, "exposure.largest_clipped_fraction")->value.value(), 0.7, 1e-12);
}

TEST(Seating, TheTubeIsToMoveOnlyForTheAngle) {
  Analysis a = analysis();
  joint(a, 0.03, 0.03);
  a.implants[0].projection.vertical_angle_deg = Quantity{12.0, 1.0};
  const Analysis angled = judged(a, Intent::seating);
  EXPECT_EQ(angled.verdict, Verdict::repeat_if_justified);
  EXPECT_TRUE(angled.implants[0].move_tube);
  a.implants[0].projection.vertical_angle_deg = Quantity{1.0, 1.0};
  a.implants[0].joint = {};
  a.implants[0].clipped_at_joint = 0.9;
  const Analysis burnt = judged(a, Intent::seating);
  EXPECT_NE(burnt.advice.find("orrect the exposure"), std::string::npos) << burnt.advice;
  EXPECT_FALSE(burnt.implants[0].move_tube);
}

}  // namespace
}  // namespace crestgate
