// Laws of the vertical angle and a seeded share of the accuracy run (all of it: tests/accuracy).
#include <gtest/gtest.h>

#include <cmath>

#include "pipeline/detect/detect.h"
#include "pipeline/inspect.h"
#include "pipeline/projection/projection.h"
#include "pipeline/quality/quality.h"
#include "tests/numbers/bench_numbers.h"
#include "tests/numbers/case.h"
#include "tests/numbers/projection_numbers.h"
#include "tests/numbers/statistics.h"
#include "tests/support/render.h"

namespace crestgate::numbers {
namespace {

phantom::Scene plain_scene(double angle_deg, std::uint64_t seed) {
  phantom::Scene scene;
  scene.beam.vertical_angle_deg = angle_deg;
  scene.detector.seed = seed;
  scene.detector.columns = 600;
  scene.detector.rows = 800;
  scene.detector.pixel_mm = 0.03;
  return scene;
}

/// Angle read from a frame: magnitude 99 where none is given.
Quantity angle_of(const Frame& frame, bool* direction = nullptr) {
  Acquisition acquisition;
  acquisition.spacing = {0.03, 0.03, "imager"};
  const Analysis a = inspect(frame, acquisition, Rules());
  for (const Implant& implant : a.implants)
    if (!implant.possible_only && implant.projection.vertical_angle_deg) {
      if (direction) *direction = implant.projection.direction_resolved;
      return *implant.projection.vertical_angle_deg;
    }
  return {99, 0};
}

template <class F>
Frame mapped(const Frame& frame, int rows, int columns, F source) {
  Frame out = frame;
  out.rows = rows;
  out.columns = columns;
  out.padding.clear();
  for (int y = 0; y < rows; ++y)
    for (int x = 0; x < columns; ++x) {
      const auto [sx, sy] = source(x, y);
      out.at(x, y) = frame.at(sx, sy);
    }
  return out;
}

template <class F>
Frame toned(const Frame& frame, F tone) {
  Frame out = frame;
  const float range = frame.highest_storable - frame.lowest_storable;
  for (float& v : out.values)
    v = frame.lowest_storable +
        range * static_cast<float>(tone((v - frame.lowest_storable) / range));
  return out;
}

class AngleLaws : public testing::TestWithParam<double> {
 protected:
  Frame frame_ = phantom::to_frame(phantom::render(plain_scene(GetParam(), 11)));
};

TEST_P(AngleLaws, TruthIsInsideTheStatedUncertainty) {
  bool direction = false;
  const Quantity q = angle_of(frame_, &direction);
  const double error = direction ? q.value - GetParam() : std::abs(q.value) - std::abs(GetParam());
  EXPECT_LE(std::abs(error), q.expanded_uncertainty) << q.value;
  if (std::abs(GetParam()) > 2.5) {
    EXPECT_TRUE(direction);
  }
}

TEST_P(AngleLaws, MirrorImageTurnsTheSign) {
  bool there = false, back = false;
  const Quantity q = angle_of(frame_, &there);
  const int last = frame_.columns - 1;
  const Quantity m = angle_of(mapped(frame_, frame_.rows, frame_.columns,
                                     [&](int x, int y) { return std::pair(last - x, y); }),
                              &back);
  // Mirroring also turns the sign of the beam's run along the implant, which the reading assumes.
  const double run = 2 * 1.5;
  if (there && back) {
    EXPECT_NEAR(m.value, -q.value, q.expanded_uncertainty + m.expanded_uncertainty + run);
    EXPECT_LT(m.value * q.value, 0);
  }
}

TEST_P(AngleLaws, WithAFlipInTheHeaderTheMagnitudeIsCoveredMirroredOrNot) {
  Acquisition acquisition;
  acquisition.spacing = {0.03, 0.03, "imager"};
  acquisition.horizontal_flip = true;
  const int last = frame_.columns - 1;
  for (const Frame& frame : {frame_, mapped(frame_, frame_.rows, frame_.columns, [&](int x, int y) {
                               return std::pair(last - x, y);
                             })}) {
    const auto shapes = detect_implants(frame, acquisition);
    ASSERT_EQ(shapes.size(), 1U);
    const QualityMeasures quality = measure_quality(frame, shapes);
    const ProjectionMeasures p = measure_projection(frame, acquisition, shapes.front(), quality,
                                                    scale_from_header(acquisition));
    ASSERT_TRUE(p.vertical_angle_deg);
    EXPECT_FALSE(p.direction_resolved);
    EXPECT_NEAR(p.vertical_angle_deg->value, std::abs(GetParam()),
                p.vertical_angle_deg->expanded_uncertainty);
  }
}

TEST_P(AngleLaws, HalfTurnInThePlaneKeepsTheSign) {
  bool there = false, back = false;
  const Quantity q = angle_of(frame_, &there);
  const int right = frame_.columns - 1, bottom = frame_.rows - 1;
  const Quantity t =
      angle_of(mapped(frame_, frame_.rows, frame_.columns,
                      [&](int x, int y) { return std::pair(right - x, bottom - y); }),
               &back);
  EXPECT_EQ(there, back);
  EXPECT_NEAR(t.value, q.value, 0.5 * q.expanded_uncertainty);
}

TEST_P(AngleLaws, QuarterTurnInThePlaneKeepsTheSign) {
  const Quantity q = angle_of(frame_);
  const int bottom = frame_.rows - 1;
  const Quantity t = angle_of(mapped(frame_, frame_.columns, frame_.rows,
                                     [&](int x, int y) { return std::pair(y, bottom - x); }));
  EXPECT_NEAR(t.value, q.value, 0.5 * q.expanded_uncertainty);
}

TEST_P(AngleLaws, BrightnessGammaAndBitDepthChangeItByLessThanItsUncertainty) {
  const Quantity q = angle_of(frame_);
  const auto change = [&](const Frame& frame) { return std::abs(angle_of(frame).value - q.value); };
  const double u = q.expanded_uncertainty;
  EXPECT_LE(change(toned(frame_, [](double t) { return 0.05 + 0.7 * t; })), u) << "gain";
  EXPECT_LE(change(toned(frame_, [](double t) { return std::pow(std::max(0.0, t), 0.75); })), u);
  EXPECT_LE(change(toned(frame_, [](double t) { return std::pow(std::max(0.0, t), 1.35); })), u);
  EXPECT_LE(change(toned(frame_, [](double t) { return std::round(t * 255) / 255; })), u)
      << "8 bit";
}

TEST_P(AngleLaws, PhotometricInversionChangesItByLessThanItsUncertainty) {
  // Inverted storage as the object writer and the reader see it: MONOCHROME1, stored upside down.
  phantom::Scene scene = plain_scene(GetParam(), 11);
  scene.readout.monochrome1 = true;
  const Quantity q = angle_of(frame_);
  const Quantity i = angle_of(phantom::to_frame(phantom::render(scene)));
  EXPECT_LE(std::abs(i.value - q.value), q.expanded_uncertainty);
}

TEST_P(AngleLaws, AnAxisHalfARadiusOffGivesNoAngle) {
  const auto shapes = detect_implants(frame_, Acquisition());
  ASSERT_EQ(shapes.size(), 1U);
  const QualityMeasures quality = measure_quality(frame_, shapes);
  for (const double share : {-0.5, 0.5}) {
    ImplantShape moved = shapes.front();
    moved.axis.origin = moved.axis.to_image(share * moved.radius_px, 0.0);
    const auto p = measure_projection(frame_, Acquisition(), moved, quality, Scale());
    EXPECT_FALSE(p.vertical_angle_deg) << share << ": " << p.vertical_angle_deg->value;
    EXPECT_FALSE(p.reason.empty());
  }
}

TEST_P(AngleLaws, TheFlankTheBeamRunsAlongIsSharper) {
  // Blur goes with |tan(lambda) + tan(theta)| on the right and |tan(lambda) - tan(theta)| on the
  // left flank (crown up); a half turn in the plane swaps image left and right, and an axis that
  // lies (60 degrees clockwise) has its crown-up left flank above.
  if (std::abs(GetParam()) < 2.5) return;
  phantom::Scene scene = plain_scene(GetParam(), 11);
  for (const double turn : {0.0, 60.0, 180.0}) {
    scene.beam.in_plane_turn_deg = turn;
    scene.identity.jaw = turn == 180 ? "maxilla" : "mandible";
    const Analysis a = inspect(phantom::to_frame(phantom::render(scene)), Acquisition(), Rules());
    ASSERT_EQ(a.implants.size(), 1U);
    const auto& ratio = a.implants.front().projection.flank_edge_ratio;
    ASSERT_TRUE(ratio.left && ratio.right);
    const double crown_up_left = turn == 180 ? *ratio.right : *ratio.left;
    const double crown_up_right = turn == 180 ? *ratio.left : *ratio.right;
    EXPECT_EQ(crown_up_right<crown_up_left, GetParam()> 0)
        << crown_up_left << " " << crown_up_right << " turned by " << turn;
  }
}

INSTANTIATE_TEST_SUITE_P(Angles, AngleLaws, testing::Values(-12.0, -6.0, -3.0, 0.5, 4.0, 9.0));

// Little noise, no bone and a linear tone: what the thread model leaves out decides there, and half
// of the threads were once read with three starts or at twice the pitch, with a small U.
TEST(AngleLaws, ALinearToneWithoutBoneIsReadAsWell) {
  for (std::uint64_t seed = 1; seed <= 6; ++seed) {
    const Case c = run_case(seed, bench_scene(10.0, 0.05, seed));
    const Implant* implant = c.found(0);
    ASSERT_NE(implant, nullptr) << seed;
    ASSERT_TRUE(implant->projection.vertical_angle_deg) << seed;
    const Quantity& angle = *implant->projection.vertical_angle_deg;
    EXPECT_NEAR(angle.value, 10.0, angle.expanded_uncertainty) << seed;
    EXPECT_LT(angle.expanded_uncertainty, 1.5) << seed;
  }
}

TEST(AngleLaws, WithoutTheImplantThereIsNone) {
  phantom::Scene scene = plain_scene(3, 12);
  scene.implants.clear();
  const Analysis a = inspect(phantom::to_frame(phantom::render(scene)), Acquisition(), Rules());
  for (const Implant& implant : a.implants) EXPECT_TRUE(implant.possible_only);
}

TEST(AngleLaws, ASmoothBodyHasNoDirection) {
  phantom::Scene scene = plain_scene(8, 13);
  scene.implants.front().thread.form = phantom::ThreadForm::none;
  bool direction = false;
  angle_of(phantom::to_frame(phantom::render(scene)), &direction);
  EXPECT_FALSE(direction);
}

TEST(AngleLaws, WithTheCoronalEndUnknownOnlyTheMagnitudeIsGiven) {
  const Frame frame = phantom::to_frame(phantom::render(plain_scene(9, 11)));
  const Acquisition acquisition;
  auto shapes = detect_implants(frame, acquisition);
  ASSERT_EQ(shapes.size(), 1U);
  const QualityMeasures quality = measure_quality(frame, shapes);
  shapes.front().coronal_known = false;
  const ProjectionMeasures p =
      measure_projection(frame, acquisition, shapes.front(), quality, Scale());
  ASSERT_TRUE(p.vertical_angle_deg);
  EXPECT_FALSE(p.direction_resolved);
  EXPECT_NEAR(p.vertical_angle_deg->value, 9, p.vertical_angle_deg->expanded_uncertainty);
}

TEST(AngleNumbers, ThePitchIsNeitherTextureNorHalfNorDouble) {
  // Coarse bone texture stronger than the thread (31007), a micro-thread neck (31058), fins whose
  // second harmonic is stronger than their first (50070): all misread once.
  for (const std::uint64_t seed : {31007, 31058, 50070}) {
    const Case c = run_case(seed, phantom::random_scene(seed));
    for (std::size_t i = 0; i < c.truth.implants.size(); ++i)
      if (const Implant* found = c.found(i); found && found->projection.thread_pitch_px) {
        const double true_px = c.truth.implants[i].thread_pitch_px;
        EXPECT_NEAR(*found->projection.thread_pitch_px, true_px, 0.05 * true_px) << seed;
      }
  }
}

TEST(AngleNumbers, RandomScenesMeetTheGoal) {
  const auto cases = angle_cases(
      run_cases(31000, 60, [](std::uint64_t seed) { return phantom::random_scene(seed); }));
  std::vector<double> errors, us;
  int beyond = 0, stated = 0, right = 0, domain = 0, given = 0, covered = 0;
  for (const AngleCase& c : cases) {
    if (!c.in_domain) continue;
    ++domain;
    if (!c.given) continue;
    ++given;
    errors.push_back(c.error_deg());
    us.push_back(c.u_deg);
    covered += c.error_deg() <= c.u_deg;
    if (std::abs(c.true_deg) <= 2.5) continue;
    ++beyond;
    stated += c.direction;
    right += c.direction && c.value_deg * c.true_deg > 0;
  }
  RecordProperty("median_error_deg", std::to_string(quantile(errors, 0.5)));
  EXPECT_LE(quantile(errors, 0.5), 0.5);
  EXPECT_LE(quantile(us, 0.5), 1.5);
  // One in a share of 60 scenes may fail by chance: exact 99 % bounds, not the point estimate.
  EXPECT_GE(binomial_bounds(right, stated, 0.01).high, 0.97) << right << " of " << stated;
  EXPECT_GE(binomial_bounds(covered, given, 0.01).high, 0.95) << covered << " of " << given;
  // An angle is wanted in 95 % of the domain and is not reached yet (DEVELOPERS.md, measured
  // figures); this holds what is reached.
  EXPECT_GE(given, domain * 7 / 10) << given << " of " << domain;
}

TEST(AngleNumbers, AtMostOneFalseImplantAmongLookAlikes) {
  // Wanted: none in 300. One is known (seed 32009, DEVELOPERS.md); no more may come.
  int alarms = 0;
  for (const Case& c :
       run_cases(32000, 45, [](std::uint64_t seed) { return phantom::implant_free_scene(seed); }))
    alarms += c.false_implants();
  EXPECT_LE(alarms, 1);
}

}  // namespace
}  // namespace crestgate::numbers
