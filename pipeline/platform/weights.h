// The one table of learned numbers of this folder. Private to it.
#pragma once
#include "pipeline/platform/cues.h"

namespace crestgate {

/// One weight per cue. How they were obtained: the logarithm of the posterior at the true height
/// (softened by 0.06 mm) maximised over 330 implants of the phantom's scenes 51000-51399 (half
/// random_scene, half seating_scene), L-BFGS, ridge penalty 0.003. Fitted on either half and
/// tried on the other, both halves gave the same errors and the same signs. No image of another
/// simulator took part.
constexpr double kCueWeights[kCues] = {
    3.11,   // kEndOuter
    -1.57,  // kEndInner
    0.63,   // kLineBoth
    1.05,   // kDipBoth
    -1.59,  // kDipAgain
    1.19,   // kNarrowSharp
    0.99,   // kReliefOn
    -1.12,  // kThreadAbove
    -0.78,  // kThreadJustAbove
    -1.22,  // kNearWidth
    -1.11,  // kOddWidth
    -1.37,  // kShort
    -1.34,  // kLong
    0.91,   // kAtDetection
    -0.68,  // kFarFromIt
    1.76,   // kSomeEnd
    1.86,   // kSomeDip
    0.91,   // kSomeLine
};

/// Posterior share of one place from which on it is called marked. On the halves not fitted: 71 %
/// of the implants, median error 0.039 mm, 90 % within 0.16 mm, 6 % off by more than 0.4 mm.
constexpr double kMarkedShare = 0.45;
/// Where metal ends altogether: the top of a cover screw looks like a bare platform. All cover
/// screws' tops that were taken for platforms had less than this.
constexpr double kMarkedShareBare = 0.78;
/// kEndInner from here on: metal ends altogether.
constexpr double kEndsAltogether = 0.4;

}  // namespace crestgate
