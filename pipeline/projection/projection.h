// Stage measure, projection: thread pitch, starts, flank sharpness and the vertical beam angle with
// its uncertainty, from the thread pattern of one implant.
#pragma once
#include "pipeline/image/acquisition.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// mm_per_px may be empty: then the beam's divergence is taken from typical distances, in U.
ProjectionMeasures measure_projection(const Frame& frame, const Acquisition& acquisition,
                                      const ImplantShape& shape, const QualityMeasures& quality,
                                      const Scale& scale);

}  // namespace crestgate
