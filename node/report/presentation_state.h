// Marks over the original, for viewers that draw them: Grayscale Softcopy Presentation State
// (PS3.3 A.33.1). Vector graphics only; nothing is drawn within 0.5 mm of joint and bone contact,
// so that the marks never hide what they are about. The source's own grey rendering is kept.
#pragma once
#include <vector>

#include "config/language.h"
#include "config/rules.h"
#include "node/report/identity.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

inline constexpr double kKeepClear_mm = 0.5;

using Polyline = std::vector<Point>;  ///< JSON pixel coordinates

/// Axis beyond the apex, platform and crest ticks, lines beside the flanks; only inside the image.
/// Without a scale 0.35 radii stand for 0.5 mm (a slim implant's radius is 1.5 mm).
std::vector<Polyline> presentation_lines(const Analysis& analysis);

/// False when there is nothing to draw, or the source is a colour image (its state would need
/// another class): then no state is written.
bool presentation_state_wanted(const Analysis& analysis, DcmDataset& source, const Rules& rules);

Result<BuiltObject> build_presentation_state(const Analysis& analysis, const Rules& rules,
                                             const Shared& shared, const Language& text);

}  // namespace crestgate
