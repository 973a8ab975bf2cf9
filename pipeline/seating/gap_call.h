// Which sides of a fitted joint are open. Private to this folder.
#pragma once
#include "pipeline/seating/joint_fit.h"

namespace crestgate {

/// From this ratio on a joint is not called closed, however small the gap that explains so much;
/// and at a height that may not be the platform's, a gap is called from this ratio on only. (Of 32
/// closed joints 1 has more; of 8 open ones at such heights 1 less: joints 2600000 and 2900000.)
constexpr double kDoubtRatio = 1.5;
/// From this -2 log L on (nine standard deviations) likewise: an open joint explains the picture so
/// much better that a small gap in it is the model's error. (Of 35 readings 'no gap visible' up to
/// 47; where a part tipped by 0.19 mm was called closed 135.)
constexpr double kDoubtGain = 81.0;

/// One side of a joint, at u < 0 or u > 0.
struct Side {
  double gap_mm = 0.0, sd_mm = 0.0;  ///< standard uncertainty: noise, structure, overlap
  double gain_inside = 0.0;          ///< JointFit::inside_minus or inside_plus
  bool open = false;                 ///< a gap, called
  bool trace = false;                ///< a gap, or what may be one
  bool unexplained = false;          ///< too large for a trace, and yet not called open
};

/// Measured, not called yet.
struct Sides {
  Side minus, plus;
};
Sides sides_of(const JointFit& fit, const JointFitInput& in);

/// Sets open, trace and unexplained. `certain`: the joint's height is.
void call_gap(const JointFit& fit, double limit_mm, bool certain, Side* side);

}  // namespace crestgate
