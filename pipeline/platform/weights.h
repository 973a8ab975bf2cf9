// The learned numbers of this folder. Private to it. How they were obtained: DEVELOPERS.md,
// 'Platform'.
#pragma once
#include <array>

#include "pipeline/platform/cues.h"

namespace crestgate {

constexpr int kHidden = 72;

/// Rates a height by its cues x: linear x + sum over k of out_k tanh(bias_k + hidden_k x). The tanh
/// terms stand for cues that count only together, or only up to a point.
struct CueNet {
  double linear[kCues];
  double hidden[kHidden][kCues];
  double bias[kHidden], out[kHidden];
  double nowhere;  ///< the platform is at none of the heights (hidden, cut off, the wrong end)
};
extern const CueNet kCueNet;

/// Logarithm of the odds of a platform at this height, up to a constant of the picture.
double rated(const std::array<double, kCues>& cues);

/// Posterior share of one place from which on it is called marked.
constexpr double kMarkedShare = 0.55;
/// Where metal ends altogether, the top of a cover screw or of a post looks like a bare platform:
/// only an open bore tells them apart, and a screw's socket looks a little like one.
constexpr double kMarkedShareBare = 0.8, kBoreOpen = 0.3;
/// kEndInner from here on: metal ends altogether.
constexpr double kEndsAltogether = 0.4;

}  // namespace crestgate
