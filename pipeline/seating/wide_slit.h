// A joint so far open that it is no dark line but a stretch of its own: the mounted part ends, its
// male core alone crosses the gap, and the implant's platform begins. It looks like a narrow neck
// between two bodies, so the core's width tells it from a part that is narrower by design.
#pragma once
#include <optional>

#include "pipeline/seating/joint_fit.h"

namespace crestgate {

struct WideSlit {
  double minus_px = 0.0, plus_px = 0.0;  ///< height at half level beside u < 0 and u > 0
};

/// Slit whose apical edge lies within 0.3 mm of v_px = input.joint_px on both sides. Its height is
/// between twice the blur's full width at half maximum (below, blur makes heights too large; see
/// design section 3) and 1.5 mm; metal as wide as 0.85 R stands above and below; what crosses it is
/// no wider than 0.68 R. A part narrower than its platform by design leaves 0.4-0.5 mm per side
/// (common practice), 0.75 R and more.
std::optional<WideSlit> find_wide_slit(const Strip& strip, const JointFitInput& input);

}  // namespace crestgate
