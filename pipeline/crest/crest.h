// Stage measure, crest: first bone-to-implant contact along each flank, platform to crest.
#pragma once
#include "config/rules.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// Image left/right. Without a level `reason` says why; where only the platform's place is in doubt
/// the contact (CrestLevel::contact_px, along the axis) is given all the same, for comparisons.
LeftRight<CrestLevel> measure_crest(const Frame& frame, const ImplantShape& shape,
                                    const ProjectionMeasures& projection,
                                    const QualityMeasures& quality, const Scale& scale,
                                    const Rules& rules);

}  // namespace crestgate
