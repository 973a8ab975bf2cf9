// The platform's edge, to a fraction of a pixel: where the metal beside a narrower part, or the
// metal as a whole, begins going apically. May serve other stages too.
#pragma once
#include <optional>

#include "pipeline/image/analysis.h"

namespace crestgate {

struct PlatformEdge {
  double v_px = 0.0;   ///< along shape.axis, 0 = where stage platform put it
  double sd_px = 0.0;  ///< standard uncertainty: disagreement of columns and flanks, bevel
};

/// Refines the platform's place within 2.5 of its standard uncertainties (0.12-0.35 mm). Empty
/// where no step of metal marks it: a part as wide as the implant, or wider, leaves nothing to see
/// but the joint itself.
std::optional<PlatformEdge> find_platform_edge(const Frame& frame, const ImplantShape& shape,
                                               double blur_sigma_px, double px_per_mm);

}  // namespace crestgate
