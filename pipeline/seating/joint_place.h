// Where along the axis a joint may lie: the platform's estimate is good to a few tenths of a mm
// where the outline has a step there, and can be a collar's height off where part and implant are
// flush.
#pragma once
#include <vector>

#include "pipeline/seating/joint_fit.h"

namespace crestgate {

/// Half width of the metal per row of the strip, px, at the implant's half level; NaN where the
/// outline is lost or lies beyond the strip.
std::vector<double> half_widths(const Strip& strip, const CrossProfile& implant);

/// Relative change of the half width from apical to coronal of v, 0 if it cannot be told;
/// positive = the part is wider.
double width_step(const Strip& strip, const std::vector<double>& half_widths, double v_px,
                  double px_per_mm);

struct JointPlace {
  double v_px = 0.0;
  double sd_px = 0.0;   ///< how far a fit may move it
  bool marked = false;  ///< something in the image marks the joint
};

/// The joint within 1.95 mm coronal and 0.35 mm apical of the platform's estimate: where the
/// outline narrows at the platform, else the most coronal clear evidence of a band or of bevel
/// notches (threads imitate both, but lie apical of the joint; a crown's margin widens the
/// outline).
JointPlace place_joint(const Strip& strip, const JointFitInput& input);

}  // namespace crestgate
