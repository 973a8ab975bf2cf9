// The scene as solids in order of precedence: where solids overlap, the earlier one counts. Holes
// are solids of air or plastic that come before what they are bored into.
#pragma once
#include <vector>

#include "tests/support/ridge.h"
#include "tests/support/solids.h"
#include "tests/support/view.h"

namespace crestgate::phantom {

struct Body {
  Shape shape;
  Pose pose;
  Material material;
  // Raster box that holds the body's shadow, half-open.
  int x0 = 0, y0 = 0, x1 = 0, y1 = 0;
};

/// Pieces of one implant and what is mounted on it, in order of precedence.
void append_implant(const Implant& implant, bool ridge_inside_window, std::vector<Body>* out);
/// The ligament and its bony lining begin at the ridge's crest.
void append_tooth(const Tooth& tooth, const Ridge& ridge, std::vector<Body>* out);
void append_item(const Item& item, std::vector<Body>* out);
void append_wedge(const StepWedge& wedge, std::vector<Body>* out);

std::vector<Body> make_bodies(const Scene& scene, const View& view, const Ridge& ridge);

/// Radius over the crests at a level apical of the platform; 0 outside the implant.
double flank_radius_mm(const Implant& implant, double level_mm);

}  // namespace crestgate::phantom
