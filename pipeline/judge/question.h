// One question put to one implant's measures: does the image answer it?
#pragma once
#include <string>
#include <vector>

#include "config/rules.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

struct Answer {
  Verdict verdict = Verdict::usable;
  std::vector<Reason> reasons;  ///< every rule looked at, held or not
  /// What a repeat would have to change, most useful first: "angle", "motion", "exposure".
  std::vector<std::string> to_correct;
  std::string bound_by;  ///< what another exposure would not change; empty if nothing
  bool in_view = true;   ///< false: the part of the implant this question is about is cut off
};

/// Seating: platform in view, beam perpendicular, smallest visible gap under the rule's limit.
Answer ask_seating(const Analysis& analysis, const Implant& implant, const Rules& rules);

/// Follow-up: projection as for seating with its own limit; spatial calibration known.
Answer ask_follow_up(const Analysis& analysis, const Implant& implant, const Rules& rules);

/// Placement: whole implant and margin beyond the apex in view (implant.extent). Distortion is
/// reported only.
Answer ask_placement(const Analysis& analysis, const Implant& implant, const Rules& rules);

/// Exposure, noise, blur of an image nothing else is asked of. Never advises a repeat.
Answer ask_general(const Analysis& analysis, const Rules& rules);

}  // namespace crestgate
