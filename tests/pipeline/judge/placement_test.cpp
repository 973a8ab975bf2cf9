#include <gtest/gtest.h>

#include "pipeline/judge/question.h"
#include "tests/pipeline/judge/case.h"

namespace crestgate {
namespace {

using judge_case::analysis;
using judge_case::judged;
using judge_case::reason;
using judge_case::tilt;

// Implant crown up from y = 300, so the apex is at 300 + length; rows end at 999.5.
void margin_px(Analysis& a, double px) { a.implants[0].shape.length_px = 999.5 - px - 300; }

TEST(Placement, MarginBeyondTheApexInMillimetresWithScaleBounds) {
  const char* rule = "placement.least_apical_margin_mm";
  Analysis a = analysis();  // 0.02 +/- 0.001 mm per px, 2 mm wanted
  margin_px(a, 106);        // 2.12 mm, at least 2.01
  EXPECT_EQ(judged(a, Intent::placement).verdict, Verdict::usable);
  EXPECT_NEAR(reason(judged(a, Intent::placement), rule)->value.value(), 2.12, 1e-9);
  margin_px(a, 104);  // 2.08 mm, at least 1.98: the limit lies inside the scale's bounds
  EXPECT_EQ(judged(a, Intent::placement).verdict, Verdict::usable_with_limits);
  margin_px(a, 99);  // 1.98 mm
  EXPECT_EQ(judged(a, Intent::placement).verdict, Verdict::usable_with_limits);
  a.scale.mm_per_px.reset();
  margin_px(a, 300);
  EXPECT_EQ(judged(a, Intent::placement).verdict, Verdict::usable_with_limits);
  EXPECT_FALSE(reason(judged(a, Intent::placement), rule)->value);
}

TEST(Placement, MarginFollowsTheAxisInAnyTurn) {
  Analysis a = analysis();
  ImplantShape& shape = a.implants[0].shape;
  shape.length_px = 100;
  const struct {
    Point apical;
    double margin;
  } cases[] = {{{0, 1}, 999.5 - 400},
               {{0, -1}, 300.5 - 100},
               {{1, 0}, 799.5 - 500},
               {{-1, 0}, 400.5 - 100},
               {{0.6, 0.8}, (799.5 - 460) / 0.6}};
  for (const auto& c : cases) {
    shape.axis.apical = c.apical;
    EXPECT_NEAR(apical_margin_px(a, shape), c.margin, 1e-9);
  }
}

TEST(Placement, DistortionIsReportedAndNeverAReasonToRepeat) {
  Analysis a = analysis();
  tilt(a, 14);
  a.quality.noise = 0.2;
  a.quality.motion_direction_deg = 0;
  a.quality.blur_sigma_px = 9;
  margin_px(a, 200);
  a = judged(a, Intent::placement);
  EXPECT_EQ(a.verdict, Verdict::usable_with_limits);
  Analysis clean = analysis();
  tilt(clean, 14);
  margin_px(clean, 200);
  clean = judged(clean, Intent::placement);
  EXPECT_EQ(clean.verdict, Verdict::usable);
  std::string all;
  for (const Reason& r : clean.reasons) all += r.text + "\n";
  EXPECT_NE(all.find("distortion: beam 14"), std::string::npos) << all;
  EXPECT_NE(all.find("facial-lingual"), std::string::npos) << all;
}

TEST(Placement, WhatIsCutOffIsNotAssessable) {
  for (int part = 0; part < 4; ++part) {
    Analysis a = analysis();
    ImplantShape& shape = a.implants[0].shape;
    bool* const in_view[] = {&shape.platform_in_view, &shape.apex_in_view,
                             &shape.minus_flank_in_view, &shape.plus_flank_in_view};
    *in_view[part] = false;
    EXPECT_EQ(judged(a, Intent::placement).verdict, Verdict::not_assessable) << part;
  }
}

}  // namespace
}  // namespace crestgate
