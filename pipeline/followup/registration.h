// Lays the implant of one image on the same implant of another. Bone plays no part: only the
// implant's own outlines are used, whose threads fix place and scale along the axis far better than
// either image's platform does. A change of the vertical angle does not move crests of the outline
// along the axis (they lie at depth 0: design section 3).
#pragma once
#include "pipeline/image/analysis.h"

namespace crestgate {

/// Baseline (u, v) of its axis frame -> follow-up (u, v) of its own, px:
///   v' = v0 + scale_v v - tilt u,  u' = u0 + scale_u u + tilt v.
struct Registration {
  double scale_v = 1.0, v0_px = 0.0;  ///< px of the follow-up
  double scale_u = 1.0, u0_px = 0.0, tilt = 0.0;
  double v_sd_px = 0.0;  ///< standard uncertainty of v' near the platform
  double scale_v_sd = 0.0;
  double rest_px = 0.0;     ///< rms distance of the outlines, px of the follow-up
  double likeness = 0.0;    ///< correlation of the threads' outlines, 0..1
  bool by_threads = false;  ///< false: laid platform on platform
  Point to_follow_up(double u, double v) const {
    return {u0_px + scale_u * u + tilt * v, v0_px + scale_v * v - tilt * u};
  }
};

Registration register_implants(const Implant& now, const Implant& before, double mm_per_px_now,
                               double mm_per_px_before);

}  // namespace crestgate
