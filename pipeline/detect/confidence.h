// From evidence to a confidence 0..1: a threaded body and a smooth one are judged apart, each by a
// logistic regression over ramps that are physical limits, inside what size and metal allow.
#pragma once
#include "pipeline/detect/evidence.h"

namespace crestgate {

/// 0 no thread .. 1 both flanks and the grey values show the same one over many pitches.
double thread_of(const Evidence& evidence);
inline constexpr double kSureThread = 0.75;

/// Weights fitted on candidates of phantom scenes, seeds 500000-500399 and 510000-510219 with
/// implants (510000: cut by the border), 500000-500599 and 520000-520299 without; smooth bodies
/// 530000-530119. Misses and false ones at 0.6 stand against each other there as 1 to 2.
double weigh(const Evidence& evidence);

}  // namespace crestgate
