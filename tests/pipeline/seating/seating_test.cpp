// What measure_joint says where there is no joint to measure. Drawn, not rendered.
#include "pipeline/seating/seating.h"
#include "pipeline/seating/joint_setup.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

namespace crestgate {
namespace {

constexpr double kMmPerPx = 0.04, kRadiusPx = 50.0, kCentreX = 110.0, kPlatformY = 150.0;

/// A cylinder down from the platform and one of `part_radius_px` on it; 0: nothing is mounted. The
/// part may be a tube of that wall and may stand off by a gap with nothing in it.
Frame cylinder(double part_radius_px, double gap_px = 0.0, double wall_px = 1e9) {
  Frame frame;
  frame.rows = 420;
  frame.columns = 220;
  frame.highest_storable = 4095.0F;
  for (int y = 0; y < frame.rows; ++y)
    for (int x = 0; x < frame.columns; ++x) {
      const double u = x - kCentreX;
      const auto chord = [u](double r) { return 2 * std::sqrt(std::max(0.0, r * r - u * u)); };
      const double below = 0.5 * std::erfc((kPlatformY - y) / 2.0);
      const double above = 0.5 * std::erfc((y - kPlatformY + gap_px) / 2.0);
      const double part = chord(part_radius_px) - chord(std::max(0.0, part_radius_px - wall_px));
      const double metal = chord(kRadiusPx) * below + part * above;
      frame.values.push_back(static_cast<float>(800.0 + 20.0 * metal));
    }
  return frame;
}

ImplantShape shape_at(double platform_y) {
  ImplantShape shape;
  shape.axis.origin = {kCentreX, platform_y};
  shape.radius_px = kRadiusPx;
  shape.length_px = 250.0;
  shape.platform_in_view = true;
  return shape;
}

JointMeasures measured(const Frame& frame, bool platform_marked, double platform_sd_mm,
                       double platform_y = kPlatformY, const std::vector<double>& rivals_px = {},
                       const std::optional<double>& mm_per_px = kMmPerPx) {
  ImplantShape shape = shape_at(platform_y);
  shape.platform_marked = platform_marked;
  shape.platform_sd_px = platform_sd_mm / kMmPerPx;
  shape.rival_platforms_px = rivals_px;
  ProjectionMeasures projection;
  projection.vertical_angle_deg = Quantity{0.5, 1.0};
  Scale scale;
  if (mm_per_px) scale = {Quantity{*mm_per_px, 0.0}, "test"};
  return measure_joint(frame, Acquisition(), shape, projection, QualityMeasures(), scale);
}

TEST(Seating, NothingMountedIsSaidWhereThePlatformIsMarked) {
  const JointMeasures joint = measured(cylinder(0.0), true, 0.05);
  EXPECT_EQ(joint.state, JointState::not_assessable);
  EXPECT_EQ(joint.reason, "why.no_part");
}

/// A neck of 1.3 body radii: the metal beside the body's radius is its own.
TEST(Seating, AFlaredNeckHasAJoint) {
  const Frame frame = cylinder(kRadiusPx);
  ImplantShape shape = shape_at(kPlatformY);
  shape.radius_px = kRadiusPx / 1.3;
  shape.platform_marked = true;
  shape.platform_sd_px = 1.0;
  shape.plus_edge_px.assign(40, kRadiusPx);
  shape.minus_edge_px.assign(40, -kRadiusPx);
  ProjectionMeasures projection;
  projection.vertical_angle_deg = Quantity{0.5, 1.0};
  const JointMeasures joint = measure_joint(frame, Acquisition(), shape, projection,
                                            QualityMeasures(), {Quantity{kMmPerPx, 0.0}, "test"});
  EXPECT_EQ(joint.state, JointState::no_gap_visible) << joint.reason;
}

/// Rows where metal goes on to the border have no width; the platform's place must not get lost.
TEST(Seating, MetalThatTouchesTheJointsSideIsNoReasonToLoseIt) {
  Frame frame = cylinder(0.85 * kRadiusPx);
  for (int y = static_cast<int>(kPlatformY) - 4; y < static_cast<int>(kPlatformY) - 1; ++y)
    for (int x = 0; x < static_cast<int>(kCentreX); ++x)
      frame.at(x, y) = std::max(frame.at(x, y), 2600.0F);
  EXPECT_NE(measured(frame, true, 0.05).reason, "why.no_metal_edge");
}

TEST(Seating, PlatformNotMarkedIsNeverCalledAnEmptyOne) {
  const JointMeasures joint = measured(cylinder(0.0), false, 0.05);
  EXPECT_EQ(joint.state, JointState::not_assessable);
  EXPECT_EQ(joint.reason, "why.platform_not_marked");
}

TEST(Seating, NoGapIsNotSaidWhereThePlatformMayBeAnywhere) {
  const Frame closed = cylinder(0.85 * kRadiusPx);
  EXPECT_EQ(measured(closed, true, 0.05).state, JointState::no_gap_visible);
  EXPECT_TRUE(measured(closed, true, 0.05).smallest_visible_gap_mm);
  const JointMeasures joint = measured(closed, true, 0.5);
  EXPECT_EQ(joint.state, JointState::not_assessable);
  EXPECT_EQ(joint.reason, "why.platform_not_certain");
  EXPECT_FALSE(joint.smallest_visible_gap_mm);  // no limit of what was not read
}

JointMeasures in_doubt(const Frame& frame, const std::vector<double>& rivals_px, double at = 0.0) {
  return measured(frame, true, 0.5, kPlatformY + at, rivals_px);
}

/// Which of its places the platform is at need not be known if the joint is closed at each.
TEST(Seating, ClosedAtEveryPlaceThePlatformMayBeAtIsClosed) {
  const Frame closed = cylinder(0.85 * kRadiusPx);
  const JointMeasures joint = in_doubt(closed, {-25.0, 20.0});
  EXPECT_EQ(joint.state, JointState::no_gap_visible) << joint.reason;
  EXPECT_EQ(joint.places, 3);
  // Of the places, the part's own body reads as a butt joint and the step as an unknown design.
  EXPECT_EQ(joint.design, "design unknown");
  double largest = 0.0;
  for (const double v : {0.0, -25.0, 20.0})
    largest =
        std::max(largest, *measured(closed, true, 0.15, kPlatformY + v).smallest_visible_gap_mm);
  EXPECT_DOUBLE_EQ(*joint.smallest_visible_gap_mm, largest);
}

TEST(Seating, AGapAtAnyPlaceThePlatformMayBeAtIsNotClosed) {
  const std::vector<double> places{0.0, -25.0, 20.0};
  for (const double gap_px : {4.0, 8.0})
    for (const double likeliest : places) {
      std::vector<double> others;  // the gap's place last
      for (const double v : places)
        if (v != likeliest && v != 0.0) others.push_back(v - likeliest);
      if (likeliest != 0.0) others.push_back(-likeliest);
      EXPECT_NE(in_doubt(cylinder(kRadiusPx, gap_px), others, likeliest).state,
                JointState::no_gap_visible)
          << gap_px << " px, " << likeliest;
    }
}

TEST(Seating, NothingMountedAtAPlaceThePlatformMayBeAtIsNotClosed) {
  EXPECT_NE(in_doubt(cylinder(0.0), {-60.0}, 60.0).state, JointState::no_gap_visible);
}

TEST(Seating, AHollowPartIsAPart) {
  const JointMeasures joint = measured(cylinder(0.85 * kRadiusPx, 0.0, 12.0), true, 0.05);
  EXPECT_TRUE(joint.part_present) << joint.reason;
  EXPECT_NE(joint.reason, "why.no_part");
}

TEST(Seating, APartOutsideTheImageIsNotCalledMissing) {
  constexpr int kCut = 145;  // rows; the platform then lies 5 px below the border
  Frame frame = cylinder(0.85 * kRadiusPx);
  frame.values.erase(frame.values.begin(), frame.values.begin() + kCut * frame.columns);
  frame.rows -= kCut;
  const JointMeasures joint = measured(frame, true, 0.05, kPlatformY - kCut);
  EXPECT_EQ(joint.state, JointState::not_assessable);
  EXPECT_EQ(joint.reason, "why.part_not_in_view");
  EXPECT_FALSE(joint.part_present);
}

TEST(Seating, APartCutByTheFieldsBlackBorderIsNotCalledMissing) {
  Frame frame = cylinder(0.85 * kRadiusPx);
  const double border_y = kPlatformY - 1.5 / kMmPerPx;
  for (int i = 0; i < frame.columns * static_cast<int>(border_y); ++i) frame.values[i] = 0.0F;
  EXPECT_EQ(measured(frame, true, 0.05).reason, "why.part_not_in_view");
}

TEST(Seating, APartWhiteThroughoutIsNotCalledMissing) {
  for (const float white : {1100.0F, 1600.0F}) {
    Frame frame = cylinder(0.85 * kRadiusPx);
    frame.highest_storable = white;
    for (float& x : frame.values) x = std::min(x, white);
    const JointMeasures joint = measured(frame, true, 0.05);
    EXPECT_NE(joint.reason, "why.no_part") << white;
    EXPECT_NE(joint.state, JointState::no_gap_visible) << white;
  }
}

TEST(Seating, TheTableDecidesHowAPartIsSeatedElseItsWidth) {
  EXPECT_EQ(seat_of("", 1.0), Seat::face_to_face);
  EXPECT_EQ(seat_of("", 0.85), Seat::unknown);
  EXPECT_EQ(seat_of("", 0.6), Seat::inside);
  EXPECT_EQ(seat_of("butt joint", 0.6), Seat::face_to_face);
  EXPECT_EQ(seat_of("conical", 1.0), Seat::unknown);
  EXPECT_EQ(seat_of("conical", 0.6), Seat::inside);
}

/// Nobody knows how large a pixel is; that implants are 3 to 6 mm wide is known.
TEST(Seating, WithoutAScaleWhatHoldsAtEveryWidthOfAnImplantIsSaid) {
  const auto at = [](const Frame& frame, const std::optional<double>& mm_per_px) {
    return measured(frame, true, 0.05, kPlatformY, {}, mm_per_px);
  };
  const Frame closed = cylinder(0.85 * kRadiusPx);
  const JointMeasures shut = at(closed, {});
  ASSERT_EQ(shut.state, JointState::no_gap_visible) << shut.reason;
  EXPECT_TRUE(shut.scale_assumed);
  EXPECT_FALSE(at(closed, kMmPerPx).scale_assumed);
  for (const double diameter_mm : {3.0, 3.6, 4.2, 5.2, 6.0})
    EXPECT_GE(*shut.smallest_visible_gap_butt_mm,
              *at(closed, diameter_mm / (2 * kRadiusPx)).smallest_visible_gap_butt_mm)
        << diameter_mm;

  const JointMeasures open = at(cylinder(kRadiusPx, 6.0), {});
  EXPECT_EQ(open.state, JointState::gap_visible) << open.reason;
  EXPECT_TRUE(open.open_side.left && open.open_side.right);

  // Open for a narrow implant, not for a wide one.
  const Frame slightly = cylinder(kRadiusPx, 3.0);
  ASSERT_EQ(at(slightly, 0.03).state, JointState::gap_visible);
  ASSERT_NE(at(slightly, 0.06).state, JointState::gap_visible);
  const JointMeasures differ = at(slightly, {});
  EXPECT_EQ(differ.state, JointState::not_assessable);
  EXPECT_EQ(differ.reason, "why.scale_unknown");
  EXPECT_FALSE(differ.open_side.left || differ.open_side.right);
  EXPECT_FALSE(differ.smallest_visible_gap_mm);
}

/// As a gap grows it is first not seen, then a trace, then seen, and never unseen again.
TEST(Seating, BetweenNoGapAndAGapLiesATrace) {
  int stage = 0, traces = 0;
  for (double gap_px = 0.0; gap_px <= 8.0; gap_px += 0.1) {
    const JointMeasures joint = measured(cylinder(0.95 * kRadiusPx, gap_px), true, 0.05);
    const int now = joint.state == JointState::no_gap_visible   ? 0
                    : joint.reason == "why.gap_at_limit"        ? 1
                    : joint.state == JointState::not_assessable ? stage
                                                                : 2;
    traces += now == 1;
    EXPECT_GE(now, stage) << gap_px << " px: " << joint_state_name(joint.state) << " "
                          << joint.reason;
    stage = std::max(stage, now);
  }
  EXPECT_GE(traces, 1);
  EXPECT_EQ(stage, 2);
}

}  // namespace
}  // namespace crestgate
