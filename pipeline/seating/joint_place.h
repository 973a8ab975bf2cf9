// The outline of part and implant beside the joint, and what it says about the joint's height.
#pragma once
#include <vector>

#include "pipeline/seating/cross_profile.h"

namespace crestgate {

/// Half width of the metal per row of the strip, px, at the implant's half level; NaN where the
/// outline is lost or lies beyond the strip.
std::vector<double> half_widths(const Strip& strip, const CrossProfile& implant);

/// Relative change of the half width from apical to coronal of v, 0 if it cannot be told;
/// positive = the part is wider.
double width_step(const Strip& strip, const std::vector<double>& half_widths, double v_px,
                  double px_per_mm);

/// The platform's plane to a fraction of a pixel: where part and implant differ in width, the
/// height at which the outline is half way between them (the rim seen edge-on lies at the
/// platform's own height whatever the angle); else 0, where stage platform put it.
double refine_joint(const Strip& strip, const CrossProfile& implant, double sd_px,
                    double mm_per_px);

}  // namespace crestgate
