// The joint's forward model against closed forms.
#include "pipeline/seating/joint_model.h"

#include <gtest/gtest.h>

#include <cmath>

#include "config/units.h"

namespace crestgate {
namespace {

constexpr double kR = 80.0;
const Spread kSharp{0.4, 0.0, 1.0};

JointShape plain(double theta_deg, double gap) {
  JointShape s;
  s.implant_radius_px = s.part_radius_px = kR;
  s.core_radius_px = 0.6 * kR;
  s.gap_minus_px = s.gap_plus_px = gap;
  s.theta_rad = radians(theta_deg);
  return s;
}

double chord(double u) { return 2 * std::sqrt(kR * kR - u * u); }

TEST(JointModel, ClosedFlushJointIsAPlainCylinder) {
  for (double u : {-70.0, 0.0, 40.0})
    for (double v : {-10.0, 0.0, 3.0})
      EXPECT_NEAR(joint_path_px(plain(7, 0), kSharp, u, v), chord(u) / std::cos(radians(7.0)),
                  0.015 * chord(u));
}

TEST(JointModel, WideGapLosesTheWholeChordOutsideTheCore) {
  EXPECT_NEAR(joint_path_px(plain(0, 12), kSharp, 0.8 * kR, -6), 0.0, 0.5);
  // Through the core only its own chord is left.
  EXPECT_NEAR(joint_path_px(plain(0, 12), kSharp, 0.3 * kR, -6), 2 * kR * std::sqrt(0.36 - 0.09),
              0.12 * kR);
}

// Path lost = gap / sin(theta) where the slab is crossed inside the annulus: design.md section 3,
// the slab formula as a check.
TEST(JointModel, TiltedThinGapLosesGapOverSine) {
  for (double theta : {6.0, 10.0, 15.0}) {
    const double gap = 2.0, u = 0.75 * kR;
    const double full = chord(u) / std::cos(radians(theta));
    // The middle of a slab centred at z = gap / 2.
    const double lost = full - joint_path_px(plain(theta, gap), {0.3, 0, 1}, u, -gap / 2);
    EXPECT_NEAR(lost, gap / std::sin(radians(theta)), 0.06 * lost) << theta;
  }
}

// Whatever the angle, the integral of the lost path along v is gap times chord / cos.
TEST(JointModel, AreaOfTheBandIsGapTimesChord) {
  for (double theta : {0.0, 4.0, 9.0, 15.0}) {
    const double u = 0.85 * kR;
    double area = 0.0;
    for (double v = -60; v <= 60; v += 0.25) {
      area += 0.25 * (joint_path_px(plain(theta, 0), {2.0, 0, 1}, u, v) -
                      joint_path_px(plain(theta, 1.5), {2.0, 0, 1}, u, v));
    }
    EXPECT_NEAR(area, 1.5 * chord(u) / std::cos(radians(theta)), 0.03 * area) << theta;
  }
}

TEST(JointModel, WedgeOpensOnOneSideOnly) {
  JointShape s = plain(3, 0);
  s.gap_plus_px = 6;
  const double open = joint_path_px(s, kSharp, 0.9 * kR, -3);
  const double shut = joint_path_px(s, kSharp, -0.9 * kR, -3);
  EXPECT_LT(open, 0.4 * shut);
}

// An unsharp mask moves contrast, it does not create any: far from the joint nothing changes.
TEST(JointModel, HaloKeepsTheFarField) {
  JointShape s = plain(2, 0);
  s.part_radius_px = 0.9 * kR;
  const Spread halo{1.5, 1.0, 5.0};
  EXPECT_NEAR(joint_path_px(s, halo, 30, 60), joint_path_px(s, kSharp, 30, 60), 1e-6);
  // Next to the step the thinner side dips: the false 'gap line' of a sharpened image.
  EXPECT_LT(joint_path_px(s, halo, 30, -5), joint_path_px(s, kSharp, 30, -40) - 0.5);
}

}  // namespace
}  // namespace crestgate
