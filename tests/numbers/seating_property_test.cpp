// A seeded share of the seating figures (all of them: tests/accuracy), and the demo's two plain
// cases through the whole chain.
#include <gtest/gtest.h>

#include "tests/numbers/seating_numbers.h"

namespace crestgate::numbers {
namespace {

phantom::Scene plain_scene(double angle_deg, double gap_mm) {
  phantom::Scene scene;
  scene.beam.vertical_angle_deg = angle_deg;
  scene.implants[0].gap.centre_mm = gap_mm;
  return scene;
}

const JointMeasures joint_of(const phantom::Scene& scene) {
  const Case c = run_case(1, scene);
  const Implant* implant = c.found(0);
  EXPECT_NE(implant, nullptr);
  return implant ? implant->joint : JointMeasures{};
}

TEST(Seating, ClosedJointSeenStraightShowsNoGapAndSaysWhatItCouldHaveShown) {
  const JointMeasures joint = joint_of(plain_scene(0.5, 0.0));
  EXPECT_EQ(joint.state, JointState::no_gap_visible) << joint.reason;
  EXPECT_TRUE(joint.part_present);
  EXPECT_EQ(joint.design, "butt joint");
  ASSERT_TRUE(joint.smallest_visible_gap_mm);
  EXPECT_GE(*joint.smallest_visible_gap_mm, 0.0127);
  EXPECT_LE(*joint.smallest_visible_gap_mm, 0.05);
}

TEST(Seating, PlainlyOpenJointIsSeenStraightAndAtNineDegrees) {
  for (double angle : {0.5, 9.0, -9.0}) {
    const JointMeasures joint = joint_of(plain_scene(angle, 0.3));
    EXPECT_EQ(joint.state, JointState::gap_visible) << angle << " deg: " << joint.reason;
    EXPECT_TRUE(joint.open_side.left && joint.open_side.right) << angle;
  }
}

TEST(Seating, WedgeIsNamedOnItsSide) {
  phantom::Scene scene = plain_scene(1.0, 0.1);
  scene.implants[0].gap.tilt_deg = 3.0;
  const JointMeasures joint = joint_of(scene);
  EXPECT_EQ(joint.state, JointState::gap_visible) << joint.reason;
  EXPECT_TRUE(joint.open_side.right);
  EXPECT_FALSE(joint.open_side.left);
}

TEST(Seating, OpenPlatformHasNoJoint) {
  phantom::Scene scene = plain_scene(1.0, 0.0);
  scene.implants[0].abutment.form = phantom::AbutmentForm::none;
  scene.implants[0].crown.present = false;
  const JointMeasures joint = joint_of(scene);
  EXPECT_EQ(joint.state, JointState::not_assessable);
  EXPECT_FALSE(joint.part_present);
}

}  // namespace
}  // namespace crestgate::numbers
