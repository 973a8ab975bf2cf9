// Stage measure, crest: first bone-to-implant contact along each flank, platform to crest.
#pragma once
#include "config/rules.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

LeftRight<CrestLevel> measure_crest(const Frame& frame, const ImplantShape& shape,
                                    const ProjectionMeasures& projection,
                                    const QualityMeasures& quality, const Scale& scale,
                                    const Rules& rules);

}  // namespace crestgate
