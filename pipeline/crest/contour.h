// The bone's edge across a strip beside the flank, to about a pixel. Private to this folder.
#pragma once
#include <optional>
#include <vector>

#include "pipeline/crest/flank_strip.h"

namespace crestgate {

struct Contour {
  std::vector<double> row;    ///< per column of the strip
  double step = 0.0;          ///< mean grey step across it
  double typical_step = 0;    ///< largest steps anywhere in the strip: its contrast
  double noise = 0.0;         ///< sd of one sample
  bool bone_goes_on = false;  ///< it stays brighter down to the strip's apical end
  bool rival = false;         ///< another edge may be the bone's first one instead
};

/// window_px: how far to either side grey values are averaged for the step; about 0.25 mm.
std::optional<Contour> find_contour(const FlankStrip& strip, int window_px);

}  // namespace crestgate
