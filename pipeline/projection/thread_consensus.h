// What fits of the same thread over several stretches of the body say together: stretches share
// pitch, starts and angle at the platform, but not the disturbances (micro-thread neck, channel,
// window, bone edges), so that a basin one stretch falls into alone is recognised and the scatter
// between them is part of the uncertainty.
#pragma once
#include <optional>
#include <vector>

#include "pipeline/projection/thread_fit.h"

namespace crestgate {

struct ThreadReading {
  ThreadSignal signal;
  ThreadFit fit;
};

struct ThreadRival {
  double theta_rad;
  int starts;
  double distance;  ///< in -2 log L from the best, mean over the stretches
};

struct ThreadConsensus {
  double theta_rad = 0;  ///< at the platform
  double sd_rad = 0;     ///< of the fits and their scatter
  int starts = 1;
  std::vector<ThreadRival> rivals;  ///< every other mode, nearest first
};

/// `run_rad_per_px`: how much the angle grows per pixel apical of the platform (beam divergence).
/// Empty if no reading has a fit.
std::optional<ThreadConsensus> thread_consensus(const std::vector<ThreadReading>& readings,
                                                double run_rad_per_px);

}  // namespace crestgate
