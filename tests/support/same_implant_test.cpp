// When a detection counts as an implant found, and when as a false one.
#include "tests/support/same_implant.h"

#include <gtest/gtest.h>

#include "tests/support/random_scene.h"
#include "tests/support/truth.h"

namespace crestgate::phantom {
namespace {

/// A standing implant, 100 px wide and 300 px long, platform up.
ImplantTruth implant(Point platform) {
  ImplantTruth t;
  t.platform_px = platform;
  t.apex_px = {platform.x, platform.y + 300};
  t.outer_diameter_px = 100;
  return t;
}

ImplantShape shape(Point platform, double length, double radius = 50) {
  ImplantShape s;
  s.axis.origin = platform;
  s.axis.apical = {0, 1};
  s.length_px = length;
  s.radius_px = radius;
  return s;
}

TEST(SameImplant, AllOfItOrWithThePartOnTop) {
  const ImplantTruth t = implant({200, 100});
  EXPECT_TRUE(lies_on(shape({200, 100}, 300), t, 600, 400));
  EXPECT_TRUE(lies_on(shape({205, 0}, 400), t, 600, 400));
}

TEST(SameImplant, CutByTheBorderThePieceInViewCounts) {
  // 100 px of its length are in view, and these are claimed.
  EXPECT_TRUE(lies_on(shape({200, 500}, 99), implant({200, 500}), 600, 400));
  // Beside the border: a third of the width is in view, the other flank is guessed.
  EXPECT_TRUE(lies_on(shape({-30, 100}, 300, 63), implant({-17, 100}), 600, 400));
}

TEST(SameImplant, NeighboursPiecesAndCrossReadingsDoNotCount) {
  const ImplantTruth t = implant({200, 100});
  EXPECT_FALSE(lies_on(shape({290, 100}, 300), t, 600, 400));  // beside it
  EXPECT_FALSE(lies_on(shape({200, 395}, 200), t, 600, 400));  // beyond its apex
  EXPECT_FALSE(lies_on(shape({200, 200}, 60), t, 600, 400));   // a fifth of it
  ImplantShape across = shape({100, 200}, 200);
  across.axis.apical = {1, 0};
  EXPECT_FALSE(lies_on(across, t, 600, 400));
}

TEST(SameImplant, WhatAConeCutHidesIsNotInView) {
  int changed = 0;
  for (std::uint64_t seed = 1; seed <= 60; ++seed) {
    Scene scene = random_scene(seed);
    scene.readout = {};
    const double open = truth_of(scene).implants[0].visible_share;
    scene.readout.cone_cut_mm = 6.0;
    scene.readout.cone_cut_direction_deg = 90.0;  // from below
    const double cut = truth_of(scene).implants[0].visible_share;
    EXPECT_LE(cut, open);
    changed += cut < open;
  }
  EXPECT_GT(changed, 10);
}

}  // namespace
}  // namespace crestgate::phantom
