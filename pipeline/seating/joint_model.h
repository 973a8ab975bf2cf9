// Forward model of a butt joint between two turned parts: metal path along rays that come at the
// vertical angle theta, already blurred by the image's point spread.
//
// Lengths in image px, v apical of the axis origin, u across. Depth y along the beam; a ray at
// height v meets axial height z = joint - v + y tan(theta) (coronal positive; the sign of theta
// does not matter to a body of revolution). The solid: implant below z = 0 with an edge bevel, part
// above z = gap with its own, in between only the core (screw, male part or boss). For each y the
// missing metal along z is one interval [z1, z2], so the blurred path is an integral of normal
// distribution functions: smooth, and exact for thin gaps.
#pragma once
#include "pipeline/seating/cross_profile.h"

namespace crestgate {

struct JointShape {
  double joint_px = 0.0;  ///< v of the implant's platform plane
  double implant_radius_px = 0.0, part_radius_px = 0.0;
  double core_radius_px = 0.0;
  double implant_bevel_px = 0.0, part_bevel_px = 0.0;
  double gap_minus_px = 0.0, gap_plus_px = 0.0;  ///< axial opening at u = -+ outer radius
  double theta_rad = 0.0;
  double outer_radius_px() const {
    return implant_radius_px < part_radius_px ? implant_radius_px : part_radius_px;
  }
};

/// Metal path in px at (u, v); u from the cylinder's axis.
double joint_path_px(const JointShape& shape, const Spread& spread, double u_px, double v_px);

/// Largest path lost to an even gap over 0.55 R < |u| < 0.95 R; Gaussian part of the spread only.
double gap_contrast_px(const JointShape& closed, double sigma_px, double gap_px);

/// Smallest argument (px) at which a rising contrast function reaches `needed`; `most` if never.
template <class F>
double reach(const F& contrast, double needed, double most) {
  if (contrast(most) < needed) return most;
  double low = 0.0, high = most;
  for (int i = 0; i < 40; ++i) {
    const double middle = 0.5 * (low + high);
    (contrast(middle) < needed ? low : high) = middle;
  }
  return high;
}

}  // namespace crestgate
