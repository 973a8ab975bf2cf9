#include "tests/numbers/seating_scenes.h"

#include <algorithm>
#include <cmath>

#include "config/units.h"
#include "tests/support/noise_field.h"
#include "tests/support/random_scene.h"

namespace crestgate::phantom {

Scene seating_scene(std::uint64_t seed, JointCase joint) {
  Draw draw;
  draw.gap_share = 0.0;
  draw.cut_share = 0.0;
  draw.second_implant_share = 0.1;
  draw.lookalike_share = 0.3;
  draw.unthreaded_share = 0.0;
  draw.motion_share = 0.05;
  draw.noise_photons = {1500.0, 60000.0};
  Scene scene = random_scene(seed, draw);
  Random random(seed * 7919 + 13);
  const double side = random.chance(0.5) ? 1.0 : -1.0;
  scene.beam.vertical_angle_deg =
      side * (random.chance(0.5) ? random.uniform(0.0, 5.0) : random.uniform(5.0, 15.0));
  Implant& implant = scene.implants.front();
  const double gap_mm = std::exp(random.uniform(std::log(0.010), std::log(0.190)));
  const double wedge_mm = random.uniform(0.1, 0.3);
  const double wedge_side = random.chance(0.5) ? 1.0 : -1.0;
  const bool cover = random.chance(0.5);
  implant.gap = Gap{};
  if (joint == JointCase::bare) {
    implant.abutment.form = cover ? AbutmentForm::cover_screw : AbutmentForm::none;
    implant.crown.present = false;
    return scene;
  }
  if (implant.abutment.form == AbutmentForm::none ||
      implant.abutment.form == AbutmentForm::cover_screw) {
    implant.abutment.form = AbutmentForm::post;
  }
  const double edge = std::min(implant.platform_diameter_mm, implant.abutment.base_diameter_mm) / 2;
  if (joint == JointCase::open) implant.gap.centre_mm = gap_mm;
  if (joint == JointCase::wedge) {
    implant.gap.centre_mm = wedge_mm / 2;
    implant.gap.tilt_deg = wedge_side * degrees(std::atan(wedge_mm / 2 / edge));
  }
  return scene;
}

}  // namespace crestgate::phantom
