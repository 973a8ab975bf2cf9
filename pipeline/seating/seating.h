// Stage measure, seating: is a part mounted, is its joint open, and how small a gap could this image
// have shown.
#pragma once
#include "pipeline/image/acquisition.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

JointMeasures measure_joint(const Frame& frame, const Acquisition& acquisition,
                            const ImplantShape& shape, const ProjectionMeasures& projection,
                            const QualityMeasures& quality, const Scale& scale);

}  // namespace crestgate
