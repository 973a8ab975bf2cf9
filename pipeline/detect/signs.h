// What the evidence says, each piece between the limits within which it tells.
#pragma once
#include <array>

#include "pipeline/detect/evidence.h"

namespace crestgate {

/// 0 no thread .. 1 both flanks and the grey values show the same one over many pitches.
double thread_of(const Evidence& evidence);
inline constexpr double kSureThread = 0.75;

/// 1 if it may be an implant at all .. 0. Posts, files and drills are thinner, crowns and bridges
/// wider. Without a thread both flanks must be in view, and it must lie in bone: half of something
/// smooth may be anything, an even block in the air is a step wedge, a shank, a bar.
double allowance(const Evidence& evidence);

/// All of it on scales of 0 to 1, as the likeness takes it.
inline constexpr int kSigns = 27;
using Signs = std::array<float, kSigns>;
Signs signs_of(const Evidence& evidence);

}  // namespace crestgate
