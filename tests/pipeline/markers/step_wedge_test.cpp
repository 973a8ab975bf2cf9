// The step wedge in rendered pictures: its greys against published attenuation, found over random
// views, not invented where there is none.
#include "pipeline/markers/step_wedge.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <random>

#include "pipeline/markers/markers.h"
#include "tests/support/jig.h"
#include "tests/support/render.h"

namespace crestgate {
namespace {

const Jig kJig{2.0, 4.0, 0.05, 1.0};
const StepWedge kWedge{6, 1.0, 1.6, 3.0};

enum class On { jig_and_wedge, jig_alone };

/// A random scene's implant, bone, exposure and processing with the jig on the crown side, every
/// step of the wedge within 0.15 mm of its place. Nothing stands behind it but soft tissue.
phantom::Scene view(std::uint64_t seed, On on) {
  std::mt19937_64 random(seed);
  std::uniform_real_distribution<double> any(-1, 1);
  phantom::Scene scene = phantom::scene_for_a_jig(seed);
  const phantom::Place place{-4 + 0.5 * any(random), -3 + any(random), 2.8, 0, 0};
  phantom::add_items(phantom::jig_items(kJig, place), &scene);
  if (on == On::jig_and_wedge) {
    const phantom::Place off{0.15 * any(random), 0.15 * any(random), 0.15 * any(random), 0, 0};
    phantom::add_items(phantom::step_wedge_items(kWedge, kJig, place, off), &scene);
  }
  return scene;
}

struct Seen {
  bool jig = false;
  std::string why_no_jig;
  WedgeReading wedge;
};

Seen look(const phantom::Scene& scene) {
  const Frame frame = phantom::to_frame(phantom::render(scene));
  Acquisition acquisition;
  acquisition.source_to_detector_mm = scene.beam.source_to_site_mm + scene.beam.site_to_detector_mm;
  const Markers markers = find_markers(frame, acquisition, kJig, {});
  if (!markers.found) return {false, markers.reason, {}};
  return {true, "", read_step_wedge(frame, markers.pose, kWedge, kJig)};
}

// Grey values of a linear film of -ln(exposure) rise by mu t per step. Aluminium, mu/rho of NIST
// (Hubbell and Seltzer, NISTIR 5632), cm2/g, times 2.699 g/cm3: 30 keV 1.128, 40 keV 0.5685, 60 keV
// 0.2778 (from memory, like the phantom's own table; the tables agree with each other to 1 %).
TEST(StepWedge, GreysOfItsStepsDifferByPublishedAttenuation) {
  for (const auto& [kev, mass] : {std::pair{30.0, 1.128}, {40.0, 0.5685}, {60.0, 0.2778}}) {
    phantom::Scene scene;
    scene.implants[0].crown.present = false;
    scene.implants[0].abutment.form = phantom::AbutmentForm::cover_screw;
    scene.beam.site_row_fraction = 0.65;
    scene.exposure.mono_kev = kev;
    scene.exposure.scatter_fraction = 0;
    scene.exposure.photons_per_pixel = 0;
    scene.processing.auto_window = false;
    scene.processing.window_low = 0, scene.processing.window_high = 5;
    const phantom::Place place{-4, -3, 2.8, 0, 0};
    scene.items = phantom::jig_items(kJig, place);
    phantom::add_items(phantom::step_wedge_items(kWedge, kJig, place), &scene);
    const Seen seen = look(scene);
    ASSERT_EQ(seen.wedge.result, "why.wedge_found") << kev << " keV " << seen.why_no_jig;
    const double mu_per_mm = mass * 2.699 / 10;
    const double range = std::pow(2.0, scene.processing.bits) - 1;
    int compared = 0;
    for (std::size_t i = 1; i < seen.wedge.steps.size(); ++i) {
      const auto &thin = seen.wedge.steps[i - 1].grey, &thick = seen.wedge.steps[i].grey;
      if (!thin || !thick) continue;
      const double rise = (thick->value - thin->value) / range * 5;
      EXPECT_NEAR(rise / mu_per_mm, 1.0, 0.03) << kev << " keV, step " << i;
      ++compared;
    }
    EXPECT_GE(compared, 4) << kev;
  }
}

int views() { return std::getenv("CRESTGATE_ALL_SCENES") ? 100 : 15; }

TEST(StepWedge, IsReadOnTheJigInAnyView) {
  int jigs = 0, in_view = 0, found = 0, steps = 0;
  for (int i = 0; i < views(); ++i) {
    const Seen seen = look(view(64100 + static_cast<unsigned>(i), On::jig_and_wedge));
    if (!seen.jig) continue;
    ++jigs;
    in_view += seen.wedge.result != "why.wedge_not_in_view";
    found += seen.wedge.result == "why.wedge_found";
    if (seen.wedge.steps.empty())
      std::printf("seed %d: %s\n", 64100 + i, seen.wedge.result.c_str());
    double last = -1e9;
    for (const auto& step : seen.wedge.steps) {
      if (!step.grey) continue;
      ++steps;
      EXPECT_GT(step.grey->value, last) << 64100 + i;
      last = step.grey->value;
    }
  }
  std::printf("jig found in %d of %d views, wedge in view in %d, read in %d, %d steps each\n", jigs,
              views(), in_view, found, steps / std::max(1, found));
  EXPECT_GE(jigs, 0.8 * views());
  EXPECT_GE(found, 0.85 * in_view);  // local equalisation leaves no step even
}

TEST(StepWedge, IsNotInventedOnAJigWithoutOne) {
  int jigs = 0;
  for (int i = 0; i < views(); ++i) {
    const Seen seen = look(view(64300 + static_cast<unsigned>(i), On::jig_alone));
    jigs += seen.jig;
    EXPECT_NE(seen.wedge.result, "why.wedge_found") << 64300 + i;
  }
  EXPECT_GE(jigs, 0.8 * views());
}

/// An even ramp from dark to bright across the whole picture is no staircase, nor is a flat grey.
TEST(StepWedge, ARampIsNone) {
  Frame frame;
  frame.rows = frame.columns = 600;
  frame.highest_storable = 4095;
  for (int y = 0; y < 600; ++y)
    for (int x = 0; x < 600; ++x) frame.values.push_back(static_cast<float>(500 + 5 * x));
  const auto pose =
      jig_pose({Point{150, 450}, {400, 450}, {150, 325}, {275, 387}}, jig_layout(kJig), 330);
  ASSERT_TRUE(pose);
  const auto result = [&](const Frame& f) {
    return read_step_wedge(f, *pose, kWedge, kJig).result;
  };
  EXPECT_EQ(result(frame), "why.wedge_no_staircase");
  for (float& value : frame.values) value = 2000;
  EXPECT_EQ(result(frame), "why.wedge_no_staircase");
  for (float& value : frame.values) value = 4095;
  EXPECT_EQ(result(frame), "why.wedge_not_in_view");
}

}  // namespace
}  // namespace crestgate
