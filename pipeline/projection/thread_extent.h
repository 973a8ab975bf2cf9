// Where along the body a thread of known period runs: between a smooth or micro-threaded neck, a
// mounted part, the bore's end and the apex, which all disturb a fit that takes them for thread.
#pragma once
#include <optional>

#include "pipeline/projection/thread_columns.h"

namespace crestgate {

struct ThreadExtent {
  double begin_px = 0, end_px = 0;  ///< along the axis, begin coronal
};

/// The run around the middle of [v0, v1] where the period is found with the phase it has there and
/// at least half the amplitude, mean of the flanks (Hann window of three pitches, in which the
/// amplitude falls to half at the end of a pattern). `crest` is the crest radius over v. Empty if
/// the run is shorter than the window.
std::optional<ThreadExtent> thread_extent(const Frame& frame, const ImplantShape& shape,
                                          const Line& crest, double pitch_px, double v0_px,
                                          double v1_px);

}  // namespace crestgate
