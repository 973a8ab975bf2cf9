// The aluminium step wedge on the marker jig: an absolute scale of grey values, the same at every
// visit whatever happened to exposure, processing or bone. Its place follows from the four balls.
//
// In the jig's frame (jig_pose.h), s = spacing: the staircase runs along x, centred on x = s, thin
// step at the smaller x; along z it reaches from 1.5 s to 1.5 s + width; its flat back lies in the
// plane y = 0 of the balls A, B, C, its steps face the tube.
#pragma once
#include "config/rules.h"
#include "pipeline/image/analysis.h"
#include "pipeline/markers/jig_pose.h"

namespace crestgate {

/// Middle of step `i` (0 = thinnest) in the jig's frame, mm, halfway through its aluminium.
Place3 wedge_step_place(const StepWedge& wedge, const Jig& jig, int i);

/// Reads the middle half of every step. Found only if at least three steps are inside the image,
/// not clipped, even (trend below 0.4, scatter below 1 of the step to the next; an even ramp has a
/// trend of 0.5), brighter than what lies beside them, and rise from thin to thick: whatever does
/// not look like a staircase is none. U (k = 2) of a step's grey: scatter of the mean, and its
/// trend as a rectangular distribution.
WedgeReading read_step_wedge(const Frame& frame, const JigPose& pose, const StepWedge& wedge,
                             const Jig& jig);

}  // namespace crestgate
