#include "pipeline/crest/edge_levels.h"

#include <gtest/gtest.h>

#include <cmath>

namespace crestgate {
namespace {

// Air 0, gum 20, bone 100, metal 200.
EdgeLevels step(double before, double after) { return {before, after, after, after, 100, 200}; }

TEST(EdgeBesideAFlank, GumToBoneIsBone) {
  EXPECT_FALSE(like_gum(step(30, 90), 0));
  EXPECT_FALSE(like_metal(step(30, 90)));
  EXPECT_FALSE(thin_bone(step(30, 90)));
}

TEST(EdgeBesideAFlank, AirToGumIsGum) { EXPECT_TRUE(like_gum(step(2, 20), 0)); }

TEST(EdgeBesideAFlank, BurntOutGumLeavesTheWholeStepToTheBone) {
  EXPECT_FALSE(like_gum(step(2, 95), 0));
}

TEST(EdgeBesideAFlank, OutOfAirComesGumHoweverBright) {
  EXPECT_TRUE(like_gum(step(-30, 60), 0));
  EXPECT_TRUE(like_gum(step(-30, 95), 0));
}

TEST(EdgeBesideAFlank, OneWallOfTwoIsThinBone) {
  EXPECT_TRUE(thin_bone(step(30, 65)));
  EXPECT_FALSE(thin_bone({30, 60, 65, 95, 100, 200})) << "a slow onset";
  EXPECT_TRUE(thin_bone({30, 60, 90, std::nan(""), 100, 200})) << "the strip ends there";
}

TEST(EdgeBesideAFlank, BrighterThanTheBoneIsAPartsMetal) {
  EXPECT_TRUE(like_metal(step(30, 130)));
  EXPECT_FALSE(like_metal(step(30, 105))) << "dense cortical bone";
}

TEST(EdgeBesideAFlank, ABrightBandWithLittleBehindItIsAPartsMetal) {
  EXPECT_TRUE(like_metal({30, 150, 85, 85, 100, 200}));
  EXPECT_FALSE(like_metal({30, 80, 105, 90, 100, 200})) << "a cortical plate over spongy bone";
}

}  // namespace
}  // namespace crestgate
