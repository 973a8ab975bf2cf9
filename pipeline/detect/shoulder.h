// The platform under a mounted part: where both flanks change their course together, coronal of the
// last thread.
#pragma once
#include <optional>

#include "pipeline/detect/body.h"

namespace crestgate {

struct Shoulder {
  double v_px = 0.0;   ///< along the trace's axis
  double score = 0.0;  ///< 0..1: how marked it is
  double step = 0.0;   ///< outward change of the half width going coronal, radii
  double bend = 0.0;   ///< change of the flank's slope, outward positive
};

/// Walks from the body towards `coronal_sense` (-1: smaller v). Empty if the silhouette stays what
/// it is until the metal ends.
std::optional<Shoulder> find_shoulder(const Body& body, int coronal_sense);

}  // namespace crestgate
