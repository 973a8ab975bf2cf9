// The marker jig of pipeline/markers, and the step wedge on it, as parts of a scene.
#pragma once
#include <cmath>

#include "config/rules.h"
#include "config/units.h"
#include "tests/support/random_scene.h"

namespace crestgate::phantom {

/// Four steel balls in the layout of DEVELOPERS.md, 'Jig': ball A at `place` (no lean, no tip),
/// each ball's centre moved by its entry of `misplaced_mm`.
inline std::vector<Item> jig_items(const Jig& jig, const Place& place,
                                   const std::vector<Place>& misplaced_mm = {}) {
  const double s = jig.spacing_mm;
  const double at[4][3] = {{0, 0, 0}, {2 * s, 0, 0}, {0, 0, s}, {s, 1.5 * s, 0.5 * s}};
  std::vector<Item> balls;
  for (std::size_t i = 0; i < 4; ++i) {
    Item ball;
    ball.kind = ItemKind::sphere;
    ball.material = Material::steel;
    ball.width_mm = ball.length_mm = ball.depth_mm = jig.ball_diameter_mm;
    ball.place.x_mm = place.x_mm + at[i][0];
    ball.place.y_mm = place.y_mm + at[i][1];
    ball.place.z_mm = place.z_mm + at[i][2];
    if (i < misplaced_mm.size()) {
      ball.place.x_mm += misplaced_mm[i].x_mm;
      ball.place.y_mm += misplaced_mm[i].y_mm;
      ball.place.z_mm += misplaced_mm[i].z_mm;
    }
    balls.push_back(ball);
  }
  return balls;
}

/// The staircase on that jig, in the layout of DEVELOPERS.md, 'Jig': one block per step, ball A at
/// `place`, the whole moved by `misplaced_mm`.
inline std::vector<Item> step_wedge_items(const crestgate::StepWedge& wedge, const Jig& jig,
                                          const Place& place, const Place& misplaced_mm = {}) {
  const double s = jig.spacing_mm;
  std::vector<Item> steps;
  for (int i = 0; i < wedge.steps; ++i) {
    const double thickness = (i + 1) * wedge.step_thickness_mm;
    Item step;
    step.kind = ItemKind::block;
    step.material = Material::aluminium;
    step.width_mm = wedge.step_length_mm;
    step.length_mm = wedge.width_mm;
    step.depth_mm = thickness;
    step.place.x_mm =
        place.x_mm + misplaced_mm.x_mm + s + (i + 0.5 - 0.5 * wedge.steps) * wedge.step_length_mm;
    step.place.y_mm = place.y_mm + misplaced_mm.y_mm - thickness / 2;
    step.place.z_mm = place.z_mm + misplaced_mm.z_mm + 1.5 * s + wedge.width_mm / 2;
    steps.push_back(step);
  }
  return steps;
}

inline void add_items(const std::vector<Item>& items, Scene* scene) {
  scene->items.insert(scene->items.end(), items.begin(), items.end());
}

/// A random scene's implant without crown, bone, exposure, detector and processing, and room for
/// the jig on the crown side, which hangs down in a picture turned by half a circle. No teeth.
inline Scene scene_for_a_jig(std::uint64_t seed) {
  Draw draw;
  draw.artefact_share = draw.cut_share = draw.motion_share = draw.second_implant_share = 0;
  draw.mirrored_share = draw.lookalike_share = 0;
  Scene scene = random_scene(seed, draw);
  scene.teeth.clear();
  scene.items.clear();
  Implant& implant = scene.implants[0];
  implant.place = {};
  implant.crown.present = false;
  implant.abutment.form = AbutmentForm::cover_screw;
  scene.beam.site_row_fraction = std::cos(radians(scene.beam.in_plane_turn_deg)) > 0 ? 0.65 : 0.35;
  scene.beam.site_column_fraction = 0.5;
  return scene;
}

}  // namespace crestgate::phantom
