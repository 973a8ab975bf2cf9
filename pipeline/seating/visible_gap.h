// Smallest gap this image could have shown: the forward model's contrast against noise and against
// what a reader needs.
#pragma once
#include <string>

#include "pipeline/seating/joint_model.h"

namespace crestgate {

/// Smallest non-zero gap of the bench study (Sharkey et al. 2011): nothing below is claimed.
constexpr double kSmallestTestedGapMm = 0.0127;
/// Path of titanium a reader needs to see lost; reproduces that study's limits (design.md 3).
constexpr double kReaderContrastMm = 0.22;
/// 1 % false alarms over two flanks and ten independent heights searched (one-sided normal quantile
/// at 1 - 0.01 / 20) and 98 % power, in standard deviations of the gap estimate.
constexpr double kFalseAlarmSd = 3.291, kPowerSd = 2.054;
/// A cone lifted off its seat leaves no band at the platform, and that is where is looked: of 10
/// prosthodontists 3 saw 0.5 mm in one design (Naghshizadian et al.; evidence notes, section 1),
/// and cones lifted by up to 0.7 mm looked seated (images of an independent renderer). What is
/// stated for a joint that may be conical is therefore the largest lift we expect (ours), not one
/// that would have shown; no rule on the hidden gap may be as large.
constexpr double kConicalMm = 1.0;

struct GapLimit {
  double butt_mm = 0.0, conical_mm = 0.0;
  double butt_at_best_mm = 0.0, conical_at_best_mm = 0.0;
  std::string bounded_by;  ///< "angle", "blur", "noise", "smallest gap ever tested"
};

/// `closed` holds radii and joint place; `worst_theta_rad` the largest angle inside U;
/// `gap_sd_mm` the noise of a measured gap at the estimated angle.
GapLimit visible_gap(const JointShape& closed, double worst_theta_rad, double sigma_px,
                     double gap_sd_mm, double mm_per_px);

}  // namespace crestgate
