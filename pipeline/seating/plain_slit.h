// A plainly open joint, told by eye rather than by model: where metal is clipped to white or other
// structures spoil the fit, it still shows as a dark slit between two bright bodies.
#pragma once
#include "pipeline/seating/joint_fit.h"

namespace crestgate {

/// Share of the way from the background to the darker rim (0.25-0.5 mm above and below) that is
/// left in the darkest slit of each flank; 1 without a slit between two rims of metal.
struct SlitsLeft {
  double minus = 1.0, plus = 1.0;
  bool open_minus() const { return minus < kOpen; }
  bool open_plus() const { return plus < kOpen; }
  bool any_open() const { return open_minus() || open_plus(); }
  /// Not called open, but the joint is not called closed either. (No bevel reaches this far
  /// inward.)
  bool in_doubt() const { return minus < kInDoubt || plus < kInDoubt; }

 private:
  static constexpr double kOpen = 0.3, kInDoubt = 0.75;
};

/// Slits across 0.68-0.82 R of either flank with their middle between v_from and v_to. Bevels of
/// 0.3 mm and thread valleys lose at most half of the path there, so closed joints do not get down
/// to 0.3.
SlitsLeft left_in_slits(const Strip& strip, const JointFitInput& input, double v_from_px,
                        double v_to_px);

}  // namespace crestgate
