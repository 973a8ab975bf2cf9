// What measure_joint says where there is no joint to measure. Drawn, not rendered.
#include "pipeline/seating/seating.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace crestgate {
namespace {

constexpr double kMmPerPx = 0.04, kRadiusPx = 50.0, kCentreX = 110.0, kPlatformY = 150.0;

/// A bare cylinder that ends at the platform: nothing is mounted on it.
Frame bare_cylinder() {
  Frame frame;
  frame.rows = 420;
  frame.columns = 220;
  frame.highest_storable = 4095.0F;
  for (int y = 0; y < frame.rows; ++y)
    for (int x = 0; x < frame.columns; ++x) {
      const double u = x - kCentreX;
      const double chord = 2 * std::sqrt(std::max(0.0, kRadiusPx * kRadiusPx - u * u));
      const double below = 0.5 * std::erfc((kPlatformY - y) / 2.0);
      frame.values.push_back(static_cast<float>(800.0 + 20.0 * chord * below));
    }
  return frame;
}

JointMeasures measured(bool platform_marked) {
  ImplantShape shape;
  shape.axis.origin = {kCentreX, kPlatformY};
  shape.radius_px = kRadiusPx;
  shape.length_px = 250.0;
  shape.platform_in_view = true;
  shape.platform_marked = platform_marked;
  return measure_joint(bare_cylinder(), Acquisition(), shape, ProjectionMeasures(),
                       QualityMeasures(), Scale{Quantity{kMmPerPx, 0.0}, "test"});
}

TEST(Seating, NothingMountedIsSaidWhereThePlatformIsMarked) {
  const JointMeasures joint = measured(true);
  EXPECT_EQ(joint.state, JointState::not_assessable);
  EXPECT_EQ(joint.reason, "why.no_part");
}

TEST(Seating, PlatformNotMarkedIsNeverCalledAnEmptyOne) {
  const JointMeasures joint = measured(false);
  EXPECT_EQ(joint.state, JointState::not_assessable);
  EXPECT_EQ(joint.reason, "why.platform_not_marked");
}

}  // namespace
}  // namespace crestgate
