// A joint where metal is white: the grey scale's end hides how much metal a ray passes, but not
// that it passes more than makes white. A gap that leaves less would have shown as a dark line.
#pragma once
#include <optional>

#include "pipeline/seating/joint_fit.h"

namespace crestgate {

/// Axial gap at either rim from which on a stretch that is white all across the joint would not be;
/// empty where no stretch of that side is.
struct WhiteLimit {
  std::optional<double> minus_mm, plus_mm;
};

/// Looks at 0.62-0.93 of the smaller radius, each stretch 0.07 wide, over the heights where an open
/// joint would show from `input.joint_px` on. The path that makes white is the tone's at the clip
/// level (fitted where the same metal's flanks are not white). `worst_theta_rad`: the largest angle
/// inside U; `noise_grey`: sd of one pixel.
WhiteLimit limit_in_white(const Strip& strip, const JointFitInput& input, double worst_theta_rad,
                          double noise_grey);

}  // namespace crestgate
