// Draws the parts of random scenes; shapes and frequencies follow the field notes.
#pragma once
#include <cmath>

#include "tests/support/noise_field.h"
#include "tests/support/random_scene.h"

namespace crestgate::phantom {

inline double draw(Random* r, Range range) { return r->uniform(range.low, range.high); }
inline double draw_log(Random* r, Range range) {
  return std::exp(r->uniform(std::log(range.low), std::log(range.high)));
}

Implant draw_implant(Random* r, const Draw& draw);
void draw_bone(Random* r, Bone* bone);
/// Teeth beside the implants, fillings, posts and the like on or in them.
void draw_neighbours(Random* r, const Draw& draw, Scene* scene);
/// Teeth and a crowd of things that look like implants.
void draw_lookalikes(Random* r, Scene* scene);

}  // namespace crestgate::phantom
