// What at each height speaks for or against a platform there. Private to this folder.
#pragma once
#include <array>
#include <vector>

#include "pipeline/platform/straight.h"

namespace crestgate {

/// Scaled so that about 1 = as plain as such a thing gets; "signed" ones may be negative. Flanks:
/// mean over four columns between 0.72 and 0.94 R. Order and scale belong to weights.cpp: after a
/// change fit anew (tests/numbers/fit_platform.py).
enum Cue {
  kEndOuter,         ///< metal begins at both flanks going apically, along the rim's coronal arc
  kEndInner,         ///< the same near the axis: metal as a whole, or what stands on it, begins
  kLineBoth,         ///< dark line along the rim at both flanks: joint, bevels
  kDipBoth,          ///< notch in the silhouette at both flanks
  kDipAgain,         ///< such a notch one pitch further apical as well: a thread
  kNarrowSharp,      ///< silhouette narrower just coronal
  kReliefOn,         ///< bore, screw, channel begin going apically
  kThreadAbove,      ///< thread valleys within 3 mm coronal
  kThreadJustAbove,  ///< and within 1 mm
  kNearWidth,        ///< the body just apical is narrower or wider than a platform
  kOddWidth,         ///< so is the body over the next 1.5 mm
  kShort,            ///< shorter than implants are, mm
  kLong,             ///< longer, mm
  kSomeEnd,          ///< kEndOuter, kDipBoth, kLineBoth up to a faint one: that there is any
  kSomeDip,
  kSomeLine,
  kSlitOne,     ///< dark stretch of any height just coronal, metal beyond it, at one flank at least
  kSmooth,      ///< length without thread from here to the first thread, up to 2 mm
  kSmoothLong,  ///< and beyond 2 mm: implants have no such neck, parts do
  kEndOpen,     ///< metal as a whole begins here with an open bore: no part's or screw's top
  kStepOuter,   ///< kEndOuter, signed
  kStepInner,   ///< kEndInner, signed
  kStepOne,     ///< the plainer flank's step, signed
  kLineOne,     ///< the plainer flank's line, signed
  kLineInner,   ///< the line near the axis, signed
  kDipOne,      ///< notch at one flank at least
  kDipAgainAbove,  ///< kDipBoth and one pitch further coronal as well
  kCentreStep,     ///< brighter apical than coronal over half a mm, |x| < 0.5 R, signed
  kSideStep,       ///< the same at 0.65 R: solid parts are brighter there than bored implants
  kWidthStep,      ///< wider apical than coronal over half a mm, signed
  kWidthAbove,     ///< half width 0.6 to 1.5 mm coronal, radii
  kSlitBoth,       ///< kSlitOne at both flanks
  kHollow,         ///< darker along the axis than beside it just apical: a bore, signed
  kHollowAbove,    ///< the same just coronal
  kRelief,         ///< kReliefOn, signed
  kNarrow,         ///< kNarrowSharp, signed
  kLength,         ///< from here to the apex, cm
  kApexSeen,       ///< 1: that length counts
  kThreadHere,     ///< a thread's valley at this height
  kThreadNext,     ///< and over the next turn
  kAngle,          ///< magnitude of the vertical angle, tens of degrees
  kHalfWidth,      ///< of the metal, radii: mean of the flanks
  kHalfWidthLess,  ///< and the narrower one
  kGrey,           ///< from here on grey values as they are, at kGreyAt: mean of both sides
  kGreyLess = kGrey + 9,  ///< and the darker side
  kAfterGreys = kGreyLess + 9,
  kCues = kAfterGreys
};

struct CueTable {
  std::vector<int> row;                             ///< of the straightened strip: the candidates
  std::vector<std::array<double, kCues>> strength;  ///< per candidate
};

/// What is seen about the shape's origin. Without a scale the body is taken to be 4.1 mm wide.
struct EndCues {
  double mm_per_px = 1.0;
  Straight straight;
  CueTable table;  ///< empty where metal does not stand out
};
EndCues cues_of_end(const Frame& frame, const ImplantShape& shape,
                    const ProjectionMeasures& projection, const Scale& scale);

}  // namespace crestgate
