// Which pixels are image content, and what grey level metal and background have. Private to this
// folder.
#pragma once
#include <cstdint>
#include <vector>

#include "pipeline/image/analysis.h"

namespace crestgate {

/// Content rectangle inside uniform rows and columns at the border (frames, bars).
struct Content {
  int x0 = 0, y0 = 0, x1 = 0, y1 = 0;  ///< half-open
  bool empty() const { return x1 <= x0 || y1 <= y0; }
};
Content content_of(const Frame& frame);

/// Levels at and beyond which values are clipped: the storable ends, or a plateau at the end of the
/// used range (a histogram spike no neighbouring level comes near).
struct ClipLevels {
  float low = 0, high = 0;
  bool clipped(float value) const { return value <= low || value >= high; }
};
ClipLevels clip_levels(const Frame& frame, const Content& content);

struct Contrast {
  double metal = 0, background = 0;
  double height() const { return metal - background; }
};
/// Medians inside and beside the implants; without implants the 99.5 % level and the median.
Contrast contrast_of(const Frame& frame, const Content& content,
                     const std::vector<ImplantShape>& implants);

}  // namespace crestgate
