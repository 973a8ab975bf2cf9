// Stage measure, seating: is a part mounted, is its joint open, and how small a gap could this
// image have shown.
#pragma once
#include "pipeline/image/acquisition.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// Needs the platform in view; says in `reason` what is missing. Without a scale the joint is read
/// for every width implants have (JointMeasures::scale_assumed). The detection limit is that of
/// design.md section 3 (Gap); its floor of 12.7 um is the smallest gap of the one bench study read
/// (Sharkey et al., Int J Oral Maxillofac Implants 2011;26:807-815).
JointMeasures measure_joint(const Frame& frame, const Acquisition& acquisition,
                            const ImplantShape& shape, const ProjectionMeasures& projection,
                            const QualityMeasures& quality, const Scale& scale);

}  // namespace crestgate
