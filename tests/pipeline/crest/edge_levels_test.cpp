#include "pipeline/crest/edge_levels.h"

#include <gtest/gtest.h>

namespace crestgate {
namespace {

// Air 0, gum 20, bone 100, metal 200: {before, after, bone, metal}.

TEST(EdgeBesideAFlank, GumToBoneIsBone) {
  EXPECT_FALSE(like_gum({30, 90, 100, 200}, 0));
  EXPECT_FALSE(like_metal({30, 90, 100, 200}));
}

TEST(EdgeBesideAFlank, AirToGumIsGum) { EXPECT_TRUE(like_gum({2, 20, 100, 200}, 0)); }

TEST(EdgeBesideAFlank, BurntOutGumLeavesTheWholeStepToTheBone) {
  EXPECT_FALSE(like_gum({2, 95, 100, 200}, 0));
}

TEST(EdgeBesideAFlank, OutOfAirComesGumHoweverBright) {
  EXPECT_TRUE(like_gum({-30, 60, 100, 200}, 0));
  EXPECT_TRUE(like_gum({-30, 95, 100, 200}, 0));
}

TEST(EdgeBesideAFlank, BrighterThanTheBoneIsAPartsMetal) {
  EXPECT_TRUE(like_metal({30, 130, 100, 200}));
  EXPECT_FALSE(like_metal({30, 105, 100, 200})) << "dense cortical bone";
}

}  // namespace
}  // namespace crestgate
