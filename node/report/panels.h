// The parts of the picture that show the radiograph: the whole image with marks outside the metal,
// and enlarged crops in the image's own orientation (never turned or mirrored), all at one scale.
#pragma once
#include <utility>
#include <vector>

#include "config/language.h"
#include "node/report/canvas.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// Where things went on the page, so that a test can prove that nothing crosses.
struct RadiographLayout {
  std::vector<Box> implants, labels;           ///< by implant, with what must stay visible around
  std::vector<Box> bodies;                     ///< of the implants alone: no line crosses another's
  std::vector<std::pair<Point, Point>> lines;  ///< label to arrow
};

RadiographLayout draw_radiograph(Canvas& canvas, const Box& box, const Analysis& analysis,
                                 const Frame& frame, const Language& text);

/// Does the straight line touch the box? (Liang and Barsky's clipping)
bool crosses(Point from, Point to, const Box& box);

/// Joint bare, joint marked, left and right flank of one implant, with an mm bar.
void draw_crops(Canvas& canvas, const Box& box, const Analysis& analysis, const Implant* implant,
                const Frame& frame, const Language& text);

}  // namespace crestgate
