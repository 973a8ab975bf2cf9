// Laws of the crest level, and a seeded share of the accuracy run (all of it: tests/accuracy).
#include <gtest/gtest.h>

#include <cmath>
#include <utility>

#include "pipeline/crest/crest.h"
#include "pipeline/inspect.h"
#include "tests/numbers/crest_numbers.h"
#include "tests/numbers/statistics.h"

namespace crestgate::numbers {
namespace {

/// A free-standing shoulder over a level ridge; contacts at level and level + 0.4 mm.
phantom::Scene plain_scene(double level_mm, std::uint64_t seed) {
  phantom::Scene scene;
  scene.detector.seed = seed;
  scene.detector.columns = 600;
  scene.detector.rows = 800;
  scene.detector.pixel_mm = 0.03;
  scene.implants.front().abutment.base_diameter_mm = 3.2;
  scene.bone.crest_left_mm = level_mm;
  scene.bone.crest_right_mm = level_mm + 0.4;
  return scene;
}

Acquisition calibrated() {
  Acquisition a;
  a.spacing = {0.03, 0.03, "imager"};
  return a;
}

LeftRight<CrestLevel> crest_of(const Frame& frame, const Acquisition& acquisition = calibrated()) {
  for (const Implant& implant : inspect(frame, acquisition, Rules()).implants)
    if (!implant.possible_only) return implant.crest;
  return {};
}

class CrestLaws : public testing::TestWithParam<double> {
 protected:
  phantom::Rendered rendered_ = phantom::render(plain_scene(GetParam(), 21));
  Frame frame_ = phantom::to_frame(rendered_);
};

TEST_P(CrestLaws, TruthIsInsideTheStatedUncertainty) {
  const auto crest = crest_of(frame_);
  const auto& truth = rendered_.truth.implants.front();
  ASSERT_TRUE(crest.left.level_mm) << crest.left.reason;
  ASSERT_TRUE(crest.right.level_mm) << crest.right.reason;
  EXPECT_LE(std::abs(*crest.left.level_mm - *truth.crest_left_mm),
            *crest.left.expanded_uncertainty_mm);
  EXPECT_LE(std::abs(*crest.right.level_mm - *truth.crest_right_mm),
            *crest.right.expanded_uncertainty_mm);
}

// The contact alone serves a comparison, which registers the images by the thread.
TEST_P(CrestLaws, WithAPlatformInDoubtOnlyTheContactIsRead) {
  const Analysis analysis = inspect(frame_, calibrated(), Rules());
  ASSERT_EQ(analysis.implants.size(), 1U);
  const Implant& implant = analysis.implants.front();
  const auto crest_with = [&](bool marked, double sd_mm) {
    ImplantShape shape = implant.shape;
    shape.platform_marked = marked;
    shape.platform_sd_px = sd_mm / analysis.scale.mm_per_px->value;
    return measure_crest(frame_, shape, implant.projection, analysis.quality, analysis.scale, {})
        .left;
  };
  ASSERT_TRUE(implant.crest.left.level_mm) << implant.crest.left.reason;
  for (const auto& [marked, why] :
       {std::pair{true, "why.platform_not_certain"}, {false, "why.platform_not_marked"}}) {
    const CrestLevel contact = crest_with(marked, 0.6);
    EXPECT_FALSE(contact.level_mm || contact.expanded_uncertainty_mm);
    EXPECT_EQ(contact.reason, why);
    ASSERT_TRUE(contact.contact_px);
    // Where the strip begins goes with the platform's uncertainty: not the same samples.
    EXPECT_NEAR(*contact.contact_px, *implant.crest.left.contact_px,
                0.01 / analysis.scale.mm_per_px->value);
    EXPECT_FALSE(crest_with(marked, 1.5).contact_px);
  }
}

TEST_P(CrestLaws, BudgetAddsUpToTheUncertainty) {
  const CrestLevel level = crest_of(frame_).left;
  ASSERT_TRUE(level.level_mm) << level.reason;
  double sum = 0;
  for (const auto& c : level.budget) {
    EXPECT_GE(c.standard_uncertainty_mm, 0) << c.name;
    sum += c.standard_uncertainty_mm * c.standard_uncertainty_mm;
  }
  EXPECT_NEAR(*level.expanded_uncertainty_mm, 2 * std::sqrt(sum), 1e-9);
  EXPECT_GE(level.budget.size(), 5u);
}

TEST_P(CrestLaws, MirrorImageSwapsTheSides) {
  Frame mirror = frame_;
  for (int y = 0; y < frame_.rows; ++y)
    for (int x = 0; x < frame_.columns; ++x) mirror.at(x, y) = frame_.at(frame_.columns - 1 - x, y);
  const auto there = crest_of(frame_), back = crest_of(mirror);
  ASSERT_TRUE(there.left.level_mm && back.right.level_mm);
  EXPECT_NEAR(*there.left.level_mm, *back.right.level_mm, 0.05);
}

TEST_P(CrestLaws, HalfTurnSwapsTheSides) {
  Frame turned = frame_;
  for (int y = 0; y < frame_.rows; ++y)
    for (int x = 0; x < frame_.columns; ++x)
      turned.at(x, y) = frame_.at(frame_.columns - 1 - x, frame_.rows - 1 - y);
  const auto there = crest_of(frame_), back = crest_of(turned);
  ASSERT_TRUE(there.left.level_mm && back.right.level_mm);
  EXPECT_NEAR(*there.left.level_mm, *back.right.level_mm, 0.05);
}

TEST_P(CrestLaws, WithoutScaleThereIsNoLevel) {
  const auto crest = crest_of(frame_, Acquisition());
  EXPECT_FALSE(crest.left.level_mm);
  EXPECT_EQ(crest.left.reason, "why.scale_unknown");
}

INSTANTIATE_TEST_SUITE_P(Levels, CrestLaws, testing::Values(-0.5, 0.6, 1.5, 3.0));

TEST(CrestLaws, WithoutBoneThereIsNoLevel) {
  phantom::Scene scene = plain_scene(1.0, 22);
  scene.bone.present = false;
  const auto crest = crest_of(phantom::to_frame(phantom::render(scene)));
  EXPECT_FALSE(crest.left.level_mm) << *crest.left.level_mm;
  EXPECT_FALSE(crest.right.level_mm) << *crest.right.level_mm;
}

TEST(CrestLaws, WithTooLittleOfTheBoneInViewThereIsNoLevel) {
  const phantom::Rendered rendered = phantom::render(plain_scene(1.5, 25));
  const Frame whole = phantom::to_frame(rendered);
  const Analysis analysis = inspect(whole, calibrated(), Rules());
  ASSERT_EQ(analysis.implants.size(), 1U);
  const Implant& implant = analysis.implants.front();
  const auto level_if_cut_at = [&](double share_of_length) {
    Frame cut = whole;  // the implant's coronal side is up
    cut.rows =
        static_cast<int>(implant.shape.axis.origin.y + share_of_length * implant.shape.length_px);
    cut.values.resize(static_cast<std::size_t>(cut.rows) * cut.columns);
    return measure_crest(cut, implant.shape, implant.projection, analysis.quality, analysis.scale,
                         Rules())
        .left;
  };
  EXPECT_TRUE(level_if_cut_at(1.0).level_mm) << level_if_cut_at(1.0).reason;
  const CrestLevel cut = level_if_cut_at(0.7);
  EXPECT_FALSE(cut.level_mm) << *cut.level_mm;
  EXPECT_EQ(cut.reason, "why.little_beside_flank");
}

TEST(CrestLaws, TheGumsEdgeIsNoCrest) {
  // Bone is lost nearly to the apex; thick gum stands about the platform against air.
  phantom::Scene scene = plain_scene(7.5, 23);
  scene.implants.front().abutment.form = phantom::AbutmentForm::cover_screw;
  scene.implants.front().crown.present = false;
  scene.bone.cheek_mm = 0.0;
  scene.bone.gingiva_mm = 14.0;
  scene.bone.gingiva_height_mm = 1.0;
  const auto crest = crest_of(phantom::to_frame(phantom::render(scene)));
  EXPECT_GT(crest.left.level_mm.value_or(9.0), 3.0);
  EXPECT_GT(crest.right.level_mm.value_or(9.0), 3.0);
}

TEST(CrestLaws, ABeamFromTheSideStaysInsideTheUncertainty) {
  for (const double side : {-8.0, 8.0}) {
    phantom::Scene scene = plain_scene(2.5, 24);
    scene.bone.outer_left_mm = scene.bone.outer_right_mm = 0.0;
    scene.bone.saucer_depth_left_mm = scene.bone.saucer_depth_right_mm = 1.5;
    scene.bone.saucer_width_mm = 1.5;
    scene.beam.horizontal_angle_deg = side;
    const phantom::Rendered rendered = phantom::render(scene);
    const auto crest = crest_of(phantom::to_frame(rendered));
    const auto& truth = rendered.truth.implants.front();
    ASSERT_TRUE(crest.left.level_mm) << crest.left.reason;
    ASSERT_TRUE(crest.right.level_mm) << crest.right.reason;
    EXPECT_LE(std::abs(*crest.left.level_mm - *truth.crest_left_mm),
              *crest.left.expanded_uncertainty_mm)
        << *crest.left.level_mm << " true " << *truth.crest_left_mm;
    EXPECT_LE(std::abs(*crest.right.level_mm - *truth.crest_right_mm),
              *crest.right.expanded_uncertainty_mm)
        << *crest.right.level_mm << " true " << *truth.crest_right_mm;
  }
}

phantom::Scene within_5_deg(std::uint64_t seed) {
  phantom::Draw draw;
  draw.vertical_angle_deg = {-5.0, 5.0};
  return phantom::random_scene(seed, draw);
}

// 15 % of the 300 scenes of tests/accuracy, other seeds. A share as small as this fails only if its
// exact 99 % bounds exclude the goal; it guards against getting worse. Passing it is not reaching
// the goals: DEVELOPERS.md has what is reached.
TEST(CrestNumbers, RandomScenesMeetTheGoal) {
  int given = 0, within_60_um = 0, within_250_um = 0, covered = 0;
  int u_within_200_um = 0;
  for (const CrestCase& c : crest_cases(run_cases(81000, 45, within_5_deg))) {
    if (!c.in_domain || !c.given) continue;
    ++given;
    within_60_um += c.error_mm() <= 0.06;
    within_250_um += c.error_mm() <= 0.25;
    covered += c.error_mm() <= c.u_mm;
    u_within_200_um += c.u_mm <= 0.20;
  }
  ASSERT_GE(given, 20);
  EXPECT_GE(binomial_bounds(within_60_um, given, 0.01).high, 0.5) << within_60_um << '/' << given;
  EXPECT_GE(binomial_bounds(within_250_um, given, 0.01).high, 0.9) << within_250_um << '/' << given;
  EXPECT_GE(binomial_bounds(covered, given, 0.01).high, 0.95) << covered << '/' << given;
  EXPECT_GE(binomial_bounds(u_within_200_um, given, 0.01).high, 0.5) << u_within_200_um;
}

TEST(CrestNumbers, ProcessingHardlyMovesTheLevel) {
  int n = 0, near = 0;
  for (const CrestShift& s : crest_shifts(81000, 6, within_5_deg)) {
    if (!s.given_after) continue;
    ++n;
    near += s.shift_mm <= 0.05;
  }
  ASSERT_GE(n, 6);
  EXPECT_GE(binomial_bounds(near, n, 0.01).high, 0.9) << near << " of " << n;
}

}  // namespace
}  // namespace crestgate::numbers
