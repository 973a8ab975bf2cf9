// A joint open by more than its own blur, drawn as plain bodies: platform, core, part.
#include "pipeline/seating/wide_slit.h"

#include <gtest/gtest.h>

#include <cmath>

namespace crestgate {
namespace {

constexpr double kRadius = 80.0, kSigma = 1.5, kMmPerPx = 0.025;

double smooth_step(double x) { return 0.5 * std::erfc(-x / (kSigma * std::sqrt(2.0))); }

// Half width per row: implant below v = 0, `core` above it for `height`, `part` further up.
Strip drawn(double core, double height_minus, double height_plus, double part) {
  Strip s;
  s.u0_px = -1.6 * kRadius;
  s.v0_px = -160;
  s.columns = static_cast<int>(3.2 * kRadius) + 1;
  s.rows = 260;
  s.values.resize(static_cast<std::size_t>(s.columns) * s.rows);
  for (int iv = 0; iv < s.rows; ++iv)
    for (int iu = 0; iu < s.columns; ++iu) {
      const double u = s.u_px(iu), v = s.v_px(iv);
      const double height = u < 0 ? height_minus : height_plus;
      const double body = smooth_step(v) * smooth_step(kRadius - std::abs(u));
      const double above = smooth_step(-height - v) * smooth_step(part - std::abs(u));
      const double neck = smooth_step(-v) * smooth_step(core - std::abs(u));
      s.values[static_cast<std::size_t>(iv) * s.columns + iu] =
          static_cast<float>(100 + 800 * std::max({body, above, neck}));
    }
  return s;
}

JointFitInput input() {
  JointFitInput in;
  in.mm_per_px = kMmPerPx;
  in.implant.radius_px = kRadius;
  in.implant.tone.background = 100;
  in.implant.tone.contrast = 800;
  in.spread.sigma_px = kSigma;
  return in;
}

TEST(WideSlit, HeightOfAnOpenJointOnEitherSide) {
  const auto slit = find_wide_slit(drawn(0.55 * kRadius, 24, 20, kRadius), input());
  ASSERT_TRUE(slit);
  EXPECT_NEAR(slit->minus_px, 24, 0.5);
  EXPECT_NEAR(slit->plus_px, 20, 0.5);
}

TEST(WideSlit, NeckOfAPartThatIsNarrowerByDesignIsNone) {
  EXPECT_FALSE(find_wide_slit(drawn(0.78 * kRadius, 24, 24, 1.1 * kRadius), input()));
}

TEST(WideSlit, LongNarrowPartUnderACrownIsNone) {
  EXPECT_FALSE(find_wide_slit(drawn(0.6 * kRadius, 80, 80, 1.3 * kRadius), input()));
}

TEST(WideSlit, ClosedJointAndOpenPlatformHaveNone) {
  EXPECT_FALSE(find_wide_slit(drawn(0.55 * kRadius, 0, 0, kRadius), input()));
  EXPECT_FALSE(find_wide_slit(drawn(0, 24, 24, kRadius), input()));
}

TEST(WideSlit, SlitAwayFromThePlatformIsNone) {
  JointFitInput in = input();
  in.joint_px = 30;
  EXPECT_FALSE(find_wide_slit(drawn(0.55 * kRadius, 24, 24, kRadius), in));
}

}  // namespace
}  // namespace crestgate
