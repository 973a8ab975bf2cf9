// A seeded share of the seating figures (all of them: tests/accuracy), and the demo's two plain
// cases through the whole chain.
#include <gtest/gtest.h>

#include <algorithm>

#include "pipeline/seating/seating.h"
#include "tests/numbers/bench_numbers.h"
#include "tests/numbers/seating_numbers.h"

namespace crestgate::numbers {
namespace {

phantom::Scene plain_scene(double angle_deg, double gap_mm) {
  phantom::Scene scene;
  scene.beam.vertical_angle_deg = angle_deg;
  scene.implants[0].gap.centre_mm = gap_mm;
  scene.implants[0].abutment.base_diameter_mm = 3.95;  // of 4.1: wide enough for face to face
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

// The published study's grid, a share of it (all of it: tests/accuracy --bench): the stated limit
// is never below what the examiners reliably saw and within a factor of 2 of it.
TEST(BenchStudy, StatedLimitsAreNotMoreOptimisticThanThePublishedReaders) {
  const auto cases = bench_cases(77, 1, {0, 5, 10, 15}, {0.0, 0.051, 0.102, 0.127});
  int stated = 0;
  for (const BenchCase& c : cases) {
    const JointMeasures* joint = c.joint();
    ASSERT_NE(joint, nullptr) << c.angle_deg << " deg, " << c.gap_mm;
    if (!joint->smallest_visible_gap_mm || joint->design != "butt joint") continue;
    ++stated;
    const double seen = *reliably_seen_mm(c.angle_deg), limit = *joint->smallest_visible_gap_mm;
    EXPECT_GE(limit, seen) << c.angle_deg << " deg, " << c.gap_mm;
    EXPECT_LE(limit, 2 * seen) << c.angle_deg << " deg, " << c.gap_mm;
    if (c.gap_mm == 0.0) {
      EXPECT_NE(joint->state, JointState::gap_visible) << c.angle_deg;
    }
    if (c.gap_mm > limit) {
      EXPECT_NE(joint->state, JointState::no_gap_visible) << c.angle_deg << ", " << c.gap_mm;
    }
  }
  EXPECT_GE(stated, 8);
}

// Double the pitch once had more coarse evidence than the pitch itself, where a joint was open and
// the picture clean: no angle in 4 of these 6, a wrong one in 1.
TEST(BenchStudy, BesideAnOpenJointTheThreadIsRead) {
  for (const BenchCase& c : bench_cases(77, 6, {5}, {0.051})) {
    const Implant* implant = c.result.found(0);
    ASSERT_TRUE(implant);
    const auto& angle = implant->projection.vertical_angle_deg;
    ASSERT_TRUE(angle.has_value()) << c.result.seed;
    EXPECT_NEAR(angle->value, 5.0, angle->expanded_uncertainty) << c.result.seed;
    EXPECT_LT(angle->expanded_uncertainty, 1.0) << c.result.seed;
  }
}

// Open joints that were once called closed.
TEST(Seating, OpenJointsOnceCalledClosedAreNot) {
  struct Once {
    std::uint64_t seed;
    double least_gap_mm;
    const char* why;
  };
  for (const Once& once :
       {Once{2600021, 0.15, "a white core: what is left of the gap is taken for two bevels"},
        {1800307, 0.25, "coarse pixels: the dip fills half of the profile and passes for noise"},
        {3100278, 0.25, "tipped beside a wide core: two bevels nearly explain the slit"},
        {3700097, 0.15, "tipped, at 11 degrees: read as 0.03 mm, yet closed explains far less"}}) {
    SCOPED_TRACE(testing::Message() << once.seed << ", " << once.why);
    const Case c = run_case(once.seed, seating_case_scene(once.seed));
    const auto& truth = c.truth.implants[0];
    ASSERT_GT(std::max(truth.gap_left_mm, truth.gap_right_mm), once.least_gap_mm);
    const Implant* implant = c.found(0);
    ASSERT_TRUE(implant);
    EXPECT_NE(implant->joint.state, JointState::no_gap_visible);
  }
}

// Where the platform is not marked the model has no place to look at, but a slit is still a slit.
TEST(Seating, AWedgePlainToTheEyeIsCalledOpenThoughThePlatformIsNotMarked) {
  const phantom::Scene scene = seating_case_scene(760008);
  const Case c = run_case(760008, scene);
  const auto& truth = c.truth.implants[0];
  ASSERT_GT(std::max(truth.gap_left_mm, truth.gap_right_mm), 0.2);
  const Implant* implant = c.found(0);
  ASSERT_TRUE(implant);
  ImplantShape unmarked = implant->shape;
  unmarked.platform_marked = false;
  const JointMeasures joint =
      measure_joint(phantom::to_frame(phantom::render(scene)), c.analysis.acquisition, unmarked,
                    implant->projection, c.analysis.quality, c.analysis.scale);
  EXPECT_EQ(joint.state, JointState::gap_visible);
  EXPECT_EQ(joint.open_side.left, truth.gap_left_mm > 0.2);
  EXPECT_EQ(joint.open_side.right, truth.gap_right_mm > 0.2);
}

// Closed, with the notches of bevels seen at 8 to 13 degrees: no band runs between them.
TEST(Seating, NotchesOfBevelsAtAnAngleAreNoGap) {
  for (const std::uint64_t seed : {2800184ULL, 2800215ULL, 2600014ULL}) {
    const Case c = run_case(seed, seating_case_scene(seed));
    ASSERT_EQ(c.truth.implants[0].gap_left_mm, 0.0);
    const Implant* implant = c.found(0);
    ASSERT_TRUE(implant);
    EXPECT_NE(implant->joint.state, JointState::gap_visible) << seed;
  }
}

// The picture is not what the model knows, but a gap explains most of it. No size is stated.
TEST(Seating, AGapThatExplainsMostIsCalledOpenInAnOddPicture) {
  const Case c = run_case(2800138, seating_case_scene(2800138));
  const auto& truth = c.truth.implants[0];
  ASSERT_GT(truth.gap_left_mm, 0.12);
  const Implant* implant = c.found(0);
  ASSERT_TRUE(implant);
  EXPECT_EQ(implant->joint.state, JointState::gap_visible);
  EXPECT_TRUE(implant->joint.open_side.left);
  EXPECT_FALSE(implant->joint.gap_mm.has_value());
}

}  // namespace
}  // namespace crestgate::numbers
