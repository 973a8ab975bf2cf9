// Thread seen in the grey values themselves: bright and dark stripes across body and flanks with
// one period along the axis. Stays where a flank is blurred by the projection or cut by the border.
#pragma once
#include "pipeline/detect/flank.h"
#include "pipeline/detect/serration.h"
#include "pipeline/image/frame.h"

namespace crestgate {

/// Periods and rows as in `find_period`, rows counted in steps of the trace from its first row;
/// periods and amplitudes in px and grey values. Only columns inside the frame count; a side with
/// none repeats the other's.
Serration find_stripes(const Frame& frame, const FlankTrace& trace, int first, int last,
                       double radius_px);

}  // namespace crestgate
