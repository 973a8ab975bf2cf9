// How sharply the thread is drawn on each flank, as a share of what this image's blur and tone
// allow.
#pragma once
#include "pipeline/image/analysis.h"
#include "pipeline/projection/thread_fit.h"

namespace crestgate {

/// Axial gradient energy of the thread pattern in the flank's columns, over the energy the fitted
/// model gives where that flank is exactly edge-on (theta = -lambda for u > 0, +lambda for u < 0;
/// lambda = atan(n pitch / 2 pi R)). 0 lost .. 1; image left/right; empty where a flank is not in
/// view.
LeftRight<std::optional<double>> flank_edge_ratio(const ThreadSignal& signal,
                                                  const ThreadMode& mode, const AxisFrame& axis);

}  // namespace crestgate
