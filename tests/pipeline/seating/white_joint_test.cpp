// A joint drawn in closed form: two cylinders of one radius, what lies between them missing beside
// a core, blurred along the axis; grey rises by 1 per px of metal and ends at white.
#include "pipeline/seating/white_joint.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "pipeline/seating/visible_gap.h"

namespace crestgate {
namespace {

constexpr double kRadius = 80.0, kSigma = 1.5, kMmPerPx = 0.025, kBlack = 100.0;

double normal(double x) { return 0.5 * std::erfc(-x / std::sqrt(2.0)); }

Strip drawn(double gap_minus_px, double gap_plus_px, double white) {
  Strip s;
  s.u0_px = -1.6 * kRadius;
  s.v0_px = -100;
  s.columns = static_cast<int>(3.2 * kRadius) + 1;
  s.rows = 200;
  for (int iv = 0; iv < s.rows; ++iv)
    for (int iu = 0; iu < s.columns; ++iu) {
      const double u = std::abs(s.u_px(iu)), v = s.v_px(iv);
      const auto chord = [u](double r) { return 2 * std::sqrt(std::max(0.0, r * r - u * u)); };
      const double gap = s.u_px(iu) < 0 ? gap_minus_px : gap_plus_px;
      const double missing = normal((v + gap) / kSigma) - normal(v / kSigma);
      const double path = chord(kRadius) - missing * (chord(kRadius) - chord(0.55 * kRadius));
      s.values.push_back(static_cast<float>(std::min(kBlack + path, white)));
    }
  return s;
}

JointFitInput input(double white) {
  JointFitInput in;
  in.mm_per_px = kMmPerPx;
  in.implant.radius_px = kRadius;
  in.implant.tone.background = kBlack;
  in.implant.tone.contrast = in.implant.tone.full_px = 2 * kRadius;
  in.part = in.implant;
  in.spread.sigma_px = kSigma;
  in.clip_level = white - 0.01;
  return in;
}

TEST(WhiteJoint, AGapOfTheStatedLimitTakesTheMarginBelowWhite) {
  for (const double white : {kBlack + 60.0, kBlack + 80.0, kBlack + 100.0}) {
    const WhiteLimit limit = limit_in_white(drawn(0, 0, white), input(white), 0.0, 0.1);
    ASSERT_TRUE(limit.minus_mm && limit.plus_mm) << white;
    EXPECT_DOUBLE_EQ(*limit.minus_mm, *limit.plus_mm);
    // At that gap, had the grey scale not ended, the darkest row of some white stretch lies below
    // white by what a reader needs.
    const double gap = *limit.minus_mm / kMmPerPx;
    const Strip open = drawn(gap, gap, 1e9), shut = drawn(0, 0, white);
    double deepest = 0.0;
    for (int iv = 0; iv < open.rows; ++iv)
      for (int iu = 0; iu < open.columns; ++iu) {
        const double x = std::abs(open.u_px(iu)) / kRadius;
        if (x > 0.6 && x < 0.95 && shut.at(iu, iv) >= white - 0.01)
          deepest = std::max(deepest, white - open.at(iu, iv));
      }
    EXPECT_GE(deepest, kReaderContrastMm / kMmPerPx) << white;
  }
}

TEST(WhiteJoint, ADarkLineIsNoWhiteStretch) {
  const double white = kBlack + 80.0;
  const double limit = *limit_in_white(drawn(0, 0, white), input(white), 0.0, 0.1).minus_mm;
  const WhiteLimit open = limit_in_white(drawn(limit / kMmPerPx, 0, white), input(white), 0.0, 0.1);
  // A stretch further in may still be white; a gap excluded there is larger than the one drawn.
  if (open.minus_mm) {
    EXPECT_GT(*open.minus_mm, limit);
  }
  ASSERT_TRUE(open.plus_mm);
  EXPECT_DOUBLE_EQ(*open.plus_mm, limit);
}

TEST(WhiteJoint, AnglesAndNoiseMakeTheLimitLarger) {
  const double white = kBlack + 80.0;
  const Strip shut = drawn(0, 0, white);
  const double least = *limit_in_white(shut, input(white), 0.0, 0.1).minus_mm;
  EXPECT_GT(*limit_in_white(shut, input(white), 0.05, 0.1).minus_mm, least);
  EXPECT_GT(*limit_in_white(shut, input(white), 0.0, 5.0).minus_mm, least);
}

TEST(WhiteJoint, WithoutWhiteNothingIsStated) {
  const WhiteLimit limit = limit_in_white(drawn(0, 0, 1e6), input(1e6), 0.0, 0.1);
  EXPECT_FALSE(limit.minus_mm);
  EXPECT_FALSE(limit.plus_mm);
}

}  // namespace
}  // namespace crestgate
