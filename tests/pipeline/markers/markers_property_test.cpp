// The jig in rendered pictures: found, scale and signed angle within U, over random poses.
#include "pipeline/markers/markers.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <random>

#include "config/units.h"
#include "tests/support/jig.h"
#include "tests/support/render.h"

namespace crestgate {
namespace {

const Jig kJig{2.0, 4.0, 0.05, 1.0};

/// A smooth implant (no thread to read) in a random scene's bone, exposure, detector and
/// processing; balls misplaced within their tolerance, jig beside the crown side of the implant.
phantom::Scene view(std::uint64_t seed, bool with_jig) {
  std::mt19937_64 random(seed);
  std::uniform_real_distribution<double> any(-1, 1);
  phantom::Scene scene = phantom::scene_for_a_jig(seed);
  scene.implants[0].thread.form = phantom::ThreadForm::none;
  if (!with_jig) return scene;
  std::vector<phantom::Place> misplaced(4);
  for (phantom::Place& p : misplaced) {
    p.x_mm = kJig.tolerance_mm * any(random);
    p.y_mm = kJig.tolerance_mm * any(random);
    p.z_mm = kJig.tolerance_mm * any(random);
  }
  phantom::Place place;
  place.x_mm = -4 + 0.5 * any(random);
  place.y_mm = -3 + any(random);
  place.z_mm = 2.8;
  phantom::add_items(phantom::jig_items(kJig, place, misplaced), &scene);
  return scene;
}

ImplantShape true_shape(const phantom::ImplantTruth& t) {
  ImplantShape shape;
  const double dx = t.apex_px.x - t.platform_px.x, dy = t.apex_px.y - t.platform_px.y;
  shape.length_px = std::hypot(dx, dy);
  shape.axis = {t.platform_px, {dx / shape.length_px, dy / shape.length_px}};
  shape.radius_px = t.outer_diameter_px / 2;
  shape.platform_in_view = shape.apex_in_view = true;
  return shape;
}

int views() { return std::getenv("CRESTGATE_ALL_SCENES") ? 100 : 15; }

TEST(Markers, GiveSignedAngleAndScaleOfASmoothImplantWithinU) {
  constexpr std::uint64_t kFirst = 62000;
  int found = 0, covered = 0, scale_covered = 0, sides = 0, wrong_side = 0;
  std::vector<double> errors;
  for (int i = 0; i < views(); ++i) {
    const phantom::Scene scene = view(kFirst + i, true);
    const phantom::Rendered r = phantom::render(scene);
    Acquisition acquisition;
    acquisition.source_to_detector_mm =
        scene.beam.source_to_site_mm + scene.beam.site_to_detector_mm;
    Scale scale;
    const double mm = r.truth.implants[0].mm_per_px;
    if (i % 2 == 0) scale.mm_per_px = Quantity{mm * 1.02, mm * 0.04};
    const Markers m = find_markers(phantom::to_frame(r), acquisition, kJig, scale);
    ProjectionMeasures p;
    const bool used = apply_markers(m, kJig, acquisition, true_shape(r.truth.implants[0]), p);
    const double truth = r.truth.implants[0].vertical_angle_deg;
    if (!used) {
      std::printf("seed %d not used: %s\n", static_cast<int>(kFirst) + i, m.reason.c_str());
      continue;
    }
    ++found;
    const Quantity angle = *p.vertical_angle_deg;
    const double error = angle.value - (p.direction_resolved ? truth : std::abs(truth));
    errors.push_back(std::abs(error));
    covered += std::abs(error) <= angle.expanded_uncertainty;
    if (p.direction_resolved) ++sides, wrong_side += angle.value * truth < 0;
    const Quantity across = *m.across.mm_per_px;
    scale_covered += std::abs(across.value - mm) <= across.expanded_uncertainty;
    std::printf("seed %d true %.2f read %.2f U %.2f scale %+.2f %% U %.2f %%\n",
                static_cast<int>(kFirst) + i, truth, angle.value, angle.expanded_uncertainty,
                100 * (across.value / mm - 1), 100 * across.expanded_uncertainty / across.value);
  }
  std::sort(errors.begin(), errors.end());
  std::printf("found %d of %d, covered %d, scale covered %d, wrong side %d of %d\n", found, views(),
              covered, scale_covered, wrong_side, sides);
  ASSERT_GE(found, 0.85 * views());
  std::printf("median error %.2f deg, 90 %% %.2f deg\n", errors[errors.size() / 2],
              errors[errors.size() * 9 / 10]);
  EXPECT_GE(covered, 0.9 * found);
  EXPECT_GE(scale_covered, 0.9 * found);
  EXPECT_EQ(wrong_side, 0);
  EXPECT_LT(errors[errors.size() / 2], 0.5);
}

TEST(Markers, WithoutAJigNoneIsFound) {
  for (int i = 0; i < views() / 3; ++i) {
    const phantom::Rendered r = phantom::render(view(63000 + i, false));
    EXPECT_FALSE(find_markers(phantom::to_frame(r), {}, kJig, {}).found) << 63000 + i;
  }
}

}  // namespace
}  // namespace crestgate
