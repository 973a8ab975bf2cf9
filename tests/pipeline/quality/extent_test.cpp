// What is in view around an implant, on made-up frames whose margins are known by construction.
#include "pipeline/quality/extent.h"

#include <gtest/gtest.h>

#include <cmath>

namespace crestgate {
namespace {

constexpr double kScale = 0.02, kScaleU = 0.0006;

/// Bone-like texture with a bright body; crown up, platform at y = 100, apex at y = 400.
struct Picture {
  Frame frame;
  ImplantShape shape;
  Picture() {
    frame.rows = 600;
    frame.columns = 400;
    frame.highest_storable = 4095;
    frame.values.resize(600 * 400);
    for (int y = 0; y < 600; ++y)
      for (int x = 0; x < 400; ++x) {
        const bool body = std::abs(x - 200) < 50 && y > 100 && y < 400;
        const double texture = 150 * std::sin(0.31 * x + 0.1 * y) * std::cos(0.23 * y);
        frame.at(x, y) = static_cast<float>((body ? 3000 : 1200) + texture);
      }
    shape.axis.origin = {200, 100};
    shape.length_px = 300;
    shape.radius_px = 50;
    shape.platform_in_view = shape.apex_in_view = true;
  }
  void fill(int y0, float value) {
    for (int y = y0; y < frame.rows; ++y)
      for (int x = 0; x < frame.columns; ++x) frame.at(x, y) = value;
  }
};

Scale millimetres() {
  Scale scale;
  scale.mm_per_px = Quantity{kScale, kScaleU};
  return scale;
}

TEST(Extent, MarginReachesTheBorderWithTheScalesBounds) {
  const Picture p;
  const Extent e = measure_extent(p.frame, p.shape, millimetres(), true);
  ASSERT_TRUE(e.apical_margin_px && e.apical_margin_mm);
  EXPECT_NEAR(*e.apical_margin_px, 200, 1.0);
  EXPECT_NEAR(e.apical_margin_mm->value, 4.0, 0.02);
  // 200 px x 0.0006 mm and 2 px x 0.02 mm, combined.
  EXPECT_NEAR(e.apical_margin_mm->expanded_uncertainty, std::hypot(0.12, 0.04), 0.003);
  EXPECT_EQ(e.bounded_by, "image border");
  const Extent header = measure_extent(p.frame, p.shape, millimetres(), false);
  EXPECT_GT(header.apical_margin_mm->expanded_uncertainty,
            1.5 * e.apical_margin_mm->expanded_uncertainty);
}

TEST(Extent, FrameAndConeCutEndTheMarginButEvenBoneDoesNot) {
  Picture framed;
  framed.fill(550, 0);
  const Extent frame = measure_extent(framed.frame, framed.shape, millimetres(), true);
  EXPECT_NEAR(frame.apical_margin_px.value(), 150, 1.0);
  EXPECT_EQ(frame.bounded_by, "cone cut or bar");

  Picture cut;  // not the whole row: a circle's edge, unexposed and therefore bright
  for (int y = 0; y < 600; ++y)
    for (int x = 0; x < 400; ++x)
      if (std::hypot(x - 150, y - 100) > 400) cut.frame.at(x, y) = 3900;
  const double to_cut = std::sqrt(400.0 * 400.0 - 50.0 * 50.0) + 100 - 400;
  EXPECT_NEAR(measure_extent(cut.frame, cut.shape, millimetres(), true).apical_margin_px.value(),
              to_cut, 6.0);

  Picture even;  // the level of bone, no texture: dull, but exposed
  for (int y = 450; y < 600; ++y)
    for (int x = 0; x < 400; ++x) even.frame.at(x, y) = 1200.0F + static_cast<float>((x + y) % 3);
  EXPECT_NEAR(measure_extent(even.frame, even.shape, millimetres(), true).apical_margin_px.value(),
              200, 1.0);
}

TEST(Extent, WithoutScaleUsualWidthsBoundTheMargin) {
  const Picture p;
  const Extent e = measure_extent(p.frame, p.shape, Scale{}, false);
  EXPECT_FALSE(e.apical_margin_mm);
  EXPECT_NEAR(e.apical_margin_least_mm.value(), 200 * 3.0 / 100, 0.05);
  EXPECT_NEAR(e.apical_margin_most_mm.value(), 200 * 5.5 / 100, 0.1);
}

TEST(Extent, NothingIsSaidBeyondAnApexOutOfView) {
  Picture p;
  p.shape.apex_in_view = false;
  p.shape.plus_flank_in_view = false;
  const Extent e = measure_extent(p.frame, p.shape, millimetres(), true);
  EXPECT_FALSE(e.apical_margin_px || e.apical_margin_mm || e.apical_margin_least_mm);
  EXPECT_TRUE(e.flank_in_view.left);
  EXPECT_FALSE(e.flank_in_view.right);
}

TEST(Extent, FollowsTheAxisInAnyTurn) {
  Picture p;
  p.shape.axis.origin = {320, 300};
  p.shape.axis.apical = {-0.8, 0.6};
  p.shape.length_px = 200;  // apex at (160, 420): 200 px along the axis to x = 0, 299 to y = 599
  EXPECT_NEAR(measure_extent(p.frame, p.shape, millimetres(), true).apical_margin_px.value(), 200,
              2.0);
}

TEST(Extent, ClippingIsCountedAroundTheJoint) {
  Picture p;
  EXPECT_NEAR(clipped_at_joint(p.frame, p.shape).value(), 0.0, 1e-12);
  for (int y = 101; y < 400; ++y)
    for (int x = 151; x < 250; ++x) p.frame.at(x, y) = 4095;
  // Half of the height, 100 of 130 px across.
  EXPECT_NEAR(clipped_at_joint(p.frame, p.shape).value(), 0.5 * 100 / 130, 0.03);
  p.fill(450, 0);  // far away: nothing changes
  EXPECT_NEAR(clipped_at_joint(p.frame, p.shape).value(), 0.5 * 100 / 130, 0.03);
  p.shape.platform_in_view = false;
  EXPECT_FALSE(clipped_at_joint(p.frame, p.shape));
}

}  // namespace
}  // namespace crestgate
