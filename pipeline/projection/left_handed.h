// A left-handed thread, known from the site's table, read as its mirror image.
#pragma once
#include "pipeline/projection/projection.h"

namespace crestgate {

/// As measure_projection for a left-handed thread. A mirror image turns the thread's hand and keeps
/// the vertical angle (which lies in the plane of axis and beam), so that the mirrored picture is
/// that of a right-handed thread at the same angle; left and right flank are changed back.
ProjectionMeasures measure_left_handed(const Frame& frame, const Acquisition& acquisition,
                                       const ImplantShape& shape, const QualityMeasures& quality,
                                       const Scale& scale);

}  // namespace crestgate
