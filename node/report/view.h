// A part of the radiograph shown in a box of the picture, with its own grey window.
#pragma once
#include "node/report/canvas.h"
#include "pipeline/image/frame.h"

namespace crestgate {

/// Part of the frame shown in a box: `origin` is the image point (pixel corner counting) at the
/// box's top left corner.
struct View {
  Box box;
  Point origin;
  double scale = 1;
  Point page(Point pixel) const {
    return {box.x + (pixel.x + 0.5 - origin.x) * scale, box.y + (pixel.y + 0.5 - origin.y) * scale};
  }
};

/// Paints the frame's part, stretched to its own greys; what lies outside the frame stays panel
/// grey.
void paint(Canvas& canvas, const Frame& frame, const View& view);

}  // namespace crestgate
