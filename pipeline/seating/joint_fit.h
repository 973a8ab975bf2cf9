// Fit of the joint's forward model to the grey values of the outer thirds of the implant, left and
// right of the screw and male part, where an open butt joint must show and a bore does not.
#pragma once
#include <optional>
#include <vector>

#include "pipeline/seating/cross_profile.h"
#include "pipeline/seating/joint_model.h"

namespace crestgate {

struct JointFitInput {
  CrossProfile implant, part;
  Spread spread;
  double theta_rad = 0.0, theta_sd_rad = 0.0;
  double joint_px = 0.0, joint_sd_px = 0.0;  ///< where the platform should be
  double mm_per_px = 0.0;
  double clip_level = 0.0, black_level = 0.0;  ///< from here on white, down to here black
};

struct JointFit {
  JointShape shape;  ///< gaps may come out slightly negative: noise
  double gap_minus_sd_px = 0.0, gap_plus_sd_px = 0.0;  ///< noise, structure and nuisances
  double chi_square_per_degree = 0.0;                  ///< 1 = the model explains all but noise
  double closed_over_open = 1.0;  ///< ratio of what the closed and the open joint leave unexplained
  double improvement = 0.0;       ///< drop of -2 log L against a closed joint, bevels refitted
  double inside_minus = 0.0, inside_plus = 0.0;  ///< of it, from within 0.82 R on either side
  /// Height of the bevels, both together, of a closed joint read on one side alone; 0 unless seen.
  double notch_minus_px = 0.0, notch_plus_px = 0.0;
  double usable_minus = 0.0, usable_plus = 0.0;  ///< share of zones not clipped or outside
};

std::optional<JointFit> fit_joint(const Strip& strip, const JointFitInput& input);

}  // namespace crestgate
