// Stage measure, jig markers: four balls of known places give scale and signed angle, also where
// the implant has no thread. How to make one: DEVELOPERS.md, 'Jig'.
#pragma once
#include "config/rules.h"
#include "pipeline/image/analysis.h"
#include "pipeline/markers/jig_pose.h"

namespace crestgate {

struct Markers {
  bool found = false;
  std::string reason;  ///< why not found
  JigPose pose;
  double position_u_deg = 0;  ///< U of theta from ball centres and placement
  Scale across, along;        ///< at the jig's depth, in U the implant 5 mm off
};

/// Looks for the four balls and solves their pose; the order of the balls follows from the layout,
/// of which no two views agree. A view that fits two orders equally well is refused.
Markers find_markers(const Frame& frame, const Acquisition& acquisition, const Jig& jig,
                     const Scale& scale);

/// Gives an implant whose axis runs along the jig's its angle by the markers, if that is better
/// than what it has and does not contradict it; says why not otherwise. True if the jig stands
/// along it.
bool apply_markers(const Markers& markers, const Jig& jig, const Acquisition& acquisition,
                   const ImplantShape& shape, ProjectionMeasures& projection);

}  // namespace crestgate
