// The one table of learned numbers of this folder. Private to it.
#pragma once
#include "pipeline/platform/cues.h"

namespace crestgate {

/// One weight per cue. How they were obtained: the logarithm of the posterior at the true height
/// (softened by 0.06 mm; "nowhere" where that is not rated) maximised over 101 implants of the
/// phantom (random scenes 50000-50059 within 5 degrees, joints 58000-58050) and 74 of a second,
/// independent simulator (each set with half of the weight), L-BFGS; penalty 0.006 on the squared
/// change from earlier weights, which 330 implants of the phantom (51000-51399) had given. 34
/// further images of that simulator were held back from the fit, though not from the choice of the
/// limits below: marked on 56 % of them instead of 44 %, none off by more than 0.2 mm.
constexpr double kCueWeights[kCues] = {
    4.04,   // kEndOuter
    -2.10,  // kEndInner
    0.91,   // kLineBoth
    1.01,   // kDipBoth
    -1.81,  // kDipAgain
    1.73,   // kNarrowSharp
    0.42,   // kReliefOn
    -1.15,  // kThreadAbove
    -1.37,  // kThreadJustAbove
    -1.04,  // kNearWidth
    -1.42,  // kOddWidth
    -1.22,  // kShort
    -1.79,  // kLong
    1.12,   // kAtDetection
    -0.34,  // kFarFromIt
    1.95,   // kSomeEnd
    3.24,   // kSomeDip
    1.46,   // kSomeLine
    0.53,   // kSlitOne
    0.89,   // kEndOpen
};

/// The platform is at none of the heights rated (hidden, cut off, the wrong end): weight of that.
constexpr double kNowhereWeight = 0.47;

/// Posterior share of one place from which on it is called marked.
constexpr double kMarkedShare = 0.55;
/// Where metal ends altogether, the top of a cover screw or of a post looks like a bare platform:
/// only an open bore tells them apart, and a screw's socket looks a little like one.
constexpr double kMarkedShareBare = 0.8, kBoreOpen = 0.3;
/// kEndInner from here on: metal ends altogether.
constexpr double kEndsAltogether = 0.4;

}  // namespace crestgate
