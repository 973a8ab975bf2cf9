// The marker jig of pipeline/markers, and the step wedge on it, as parts of a scene.
#pragma once
#include "config/rules.h"
#include "tests/support/scene.h"

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

}  // namespace crestgate::phantom
