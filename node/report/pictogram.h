// Small drawings that say what text alone says too slowly.
#pragma once
#include "config/language.h"
#include "node/report/canvas.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// Usability by shape: ring with tick, half ring, triangle with '!', square with '?'. One blue and
/// one orange only; the shapes differ without colour.
void draw_verdict_sign(Canvas& canvas, const Box& box, Verdict verdict);

/// Tube head as it was and as it should be, for this jaw (design section 3, 'Advice'): source too
/// coronal: mandible lower the head, maxilla raise it; jaw unknown: towards the root end.
struct TubeMove {
  Jaw jaw = Jaw::unknown;
  bool source_too_coronal = false;
  bool direction_known = false;
};
void draw_tube_move(Canvas& canvas, const Box& box, const TubeMove& move, const Language& text);

}  // namespace crestgate
