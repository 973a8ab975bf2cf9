// How far a reading of the bone's edge can be believed, as learned. Private to this folder.
#pragma once
#include "pipeline/crest/edge_view.h"

namespace crestgate {

/// Of the error of such readings, along the axis: what the edge, the bone before and behind the
/// implant and the beam's angle make of it. The platform's error is not in it; what little the
/// scale's makes is, so that U counts that twice.
struct Trust {
  double sd_mm = 0.0;  ///< standard uncertainty where the reading is of the right edge
  double gross = 0.0;  ///< probability that it is not
};

Trust trust_in(const EdgeView& view, const EdgeSigns& signs);

}  // namespace crestgate
