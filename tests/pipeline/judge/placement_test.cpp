#include <gtest/gtest.h>

#include "pipeline/judge/question.h"
#include "tests/pipeline/judge/case.h"

namespace crestgate {
namespace {

using judge_case::analysis;
using judge_case::judged;
using judge_case::reason;
using judge_case::tilt;

void margin_mm(Analysis& a, double mm, double u_mm) {
  a.implants[0].extent.apical_margin_mm = Quantity{mm, u_mm};
}

const char* const kRule = "placement.least_apical_margin_mm";

TEST(Placement, MarginBeyondTheApexIsJudgedWithItsUncertainty) {
  Analysis a = analysis();  // 2 mm wanted
  margin_mm(a, 2.12, 0.11);
  EXPECT_EQ(judged(a, Intent::placement).verdict, Verdict::usable);
  EXPECT_NEAR(reason(judged(a, Intent::placement), kRule)->value.value(), 2.12, 1e-9);
  margin_mm(a, 2.08, 0.11);  // the limit lies inside the uncertainty
  EXPECT_EQ(judged(a, Intent::placement).verdict, Verdict::usable_with_limits);
  margin_mm(a, 1.98, 0.11);
  a = judged(a, Intent::placement);
  EXPECT_EQ(a.verdict, Verdict::usable_with_limits);
  EXPECT_NE(reason(a, kRule)->text.find("too little in view"), std::string::npos);
}

TEST(Placement, WithoutAScaleTheBodysUsualWidthsBoundTheMargin) {
  const struct {
    double least, most;
    Verdict verdict;
    const char* words;
  } cases[] = {{2.1, 3.9, Verdict::usable, "enough in view"},
               {1.0, 1.8, Verdict::usable_with_limits, "too little in view"},
               {1.4, 2.6, Verdict::usable_with_limits, "not assessable"}};
  for (const auto& c : cases) {
    Analysis a = analysis();
    a.implants[0].extent.apical_margin_mm.reset();
    a.implants[0].extent.apical_margin_least_mm = c.least;
    a.implants[0].extent.apical_margin_most_mm = c.most;
    a = judged(a, Intent::placement);
    EXPECT_EQ(a.verdict, c.verdict) << c.words;
    EXPECT_NE(reason(a, kRule)->text.find(c.words), std::string::npos) << reason(a, kRule)->text;
    EXPECT_FALSE(reason(a, kRule)->value);
  }
  Analysis unknown = analysis();
  unknown.implants[0].extent.apical_margin_mm.reset();
  unknown = judged(unknown, Intent::placement);
  EXPECT_NE(reason(unknown, kRule)->text.find("not assessable"), std::string::npos);
}

TEST(Placement, DistortionIsReportedAndNeverAReasonToRepeat) {
  Analysis a = analysis();
  tilt(a, 14);
  a.quality.noise = 0.2;
  a.quality.motion_direction_deg = 0;
  a.quality.blur_sigma_px = 9;
  margin_mm(a, 4, 0.2);
  a = judged(a, Intent::placement);
  EXPECT_EQ(a.verdict, Verdict::usable_with_limits);
  Analysis clean = analysis();
  tilt(clean, 14);
  margin_mm(clean, 4, 0.2);
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
