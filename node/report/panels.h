// The parts of the picture that show the radiograph: the whole image with marks outside the metal,
// and enlarged crops in the image's own orientation (never turned or mirrored), all at one scale.
#pragma once
#include "node/report/canvas.h"
#include "node/report/text.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

void draw_radiograph(Canvas& canvas, const Box& box, const Analysis& analysis, const Frame& frame,
                     const TextTable& text);

/// Joint bare, joint marked, left and right flank of one implant, with an mm bar.
void draw_crops(Canvas& canvas, const Box& box, const Analysis& analysis, const Implant* implant,
                const Frame& frame, const TextTable& text);

}  // namespace crestgate
