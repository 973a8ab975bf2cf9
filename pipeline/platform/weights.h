// The one table of learned numbers of this folder. Private to it.
#pragma once
#include "pipeline/platform/cues.h"

namespace crestgate {

/// One weight per cue. How they were obtained: the logarithm of the posterior at the true height
/// (softened by 0.06 mm; "nowhere" where that is not rated) maximised over 178 implants of the
/// phantom (random scenes 50000-50099 within 8 degrees, joints 58000-58079) and 180 of an
/// independent simulator (a quarter, a quarter, a half of the weight), L-BFGS; penalty 0.002 on the
/// squared change from earlier weights, which 175 other implants had given. Held back from the fit:
/// 65 further implants of that simulator, where the place was sure (share 0.8) on 28, before on 23,
/// and off by more than 0.5 mm on 1 of these, before on 2; and the 16 of a third simulator: sure on
/// 11, before on 9, none off by more than 0.2 mm.
constexpr double kCueWeights[kCues] = {
    4.85,   // kEndOuter
    -3.39,  // kEndInner
    0.52,   // kLineBoth
    0.62,   // kDipBoth
    -2.76,  // kDipAgain
    1.29,   // kNarrowSharp
    1.88,   // kReliefOn
    -0.98,  // kThreadAbove
    -1.06,  // kThreadJustAbove
    -1.54,  // kNearWidth
    -0.87,  // kOddWidth
    -1.07,  // kShort
    -2.78,  // kLong
    1.65,   // kAtDetection
    -0.38,  // kFarFromIt
    1.88,   // kSomeEnd
    4.73,   // kSomeDip
    2.22,   // kSomeLine
    0.71,   // kSlitOne
    0.47,   // kSmooth
    -2.24,  // kSmoothLong
    3.15,   // kEndOpen
};

/// The platform is at none of the heights rated (hidden, cut off, the wrong end): weight of that.
constexpr double kNowhereWeight = 1.66;

/// Posterior share of one place from which on it is called marked.
constexpr double kMarkedShare = 0.55;
/// Where metal ends altogether, the top of a cover screw or of a post looks like a bare platform:
/// only an open bore tells them apart, and a screw's socket looks a little like one.
constexpr double kMarkedShareBare = 0.8, kBoreOpen = 0.3;
/// kEndInner from here on: metal ends altogether.
constexpr double kEndsAltogether = 0.4;

}  // namespace crestgate
