// Is the edge found beside a flank the bone's, or the gum's, or a mounted part's? Private to this
// folder.
#pragma once
#include "pipeline/crest/contour.h"
#include "pipeline/crest/flank_strip.h"

namespace crestgate {

/// Grey values about an edge of a strip.
struct EdgeLevels {
  double before = 0.0;   ///< 0.2 to 0.7 mm coronal of it
  double at = 0.0;       ///< 0.2 mm about it
  double after = 0.0;    ///< 0.2 to 0.7 mm apical of it
  double further = 0.0;  ///< 0.8 to 1.8 mm apical of it
  double bone = 0.0;     ///< beside the last quarter of the implant, where bone is sure
  double metal = 0.0;    ///< of the implant's body
};

/// Of the image: air, or what the image shows as black.
double darkest_of(const Frame& frame);

/// Grey value of the implant's body, outside bore and screw.
double metal_of(const Frame& frame, const ImplantShape& shape);

EdgeLevels levels_about(const Frame& frame, const ImplantShape& shape, int side,
                        const FlankStrip& strip, const Contour& contour, double px_per_mm,
                        double metal);

/// Gum covers bone, so bone's edge does not begin at the darkest an image has unless the gum is
/// burnt out, and then the bone apical of it is as bright as it gets. An edge that begins there and
/// reaches a part of the way only is the gum's, and one that begins out of air is in any case.
bool like_gum(const EdgeLevels& levels, double darkest);

/// Less there than the bone has beside the implant's last quarter: perhaps one wall of a crater
/// only, which hides where bone meets the implant, or gum. Also where too little is in view to
/// tell.
bool thin_bone(const EdgeLevels& levels);

/// Brighter apical of the edge than bone ever is beside this implant, or a bright band with much
/// less apical of it: a part that flares there.
bool like_metal(const EdgeLevels& levels);

}  // namespace crestgate
