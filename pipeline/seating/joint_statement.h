// How what was found at a joint is put into its measures. Private to this folder.
#pragma once
#include <string>

#include "pipeline/image/analysis.h"
#include "pipeline/seating/gap_call.h"
#include "pipeline/seating/visible_gap.h"
#include "pipeline/seating/wide_slit.h"

namespace crestgate {

/// A gap is visible at u < 0, at u > 0, or both; its size is not stated.
void state_open_sides(const AxisFrame& axis, bool minus, bool plus, JointMeasures* m);

/// The sides called open, with sizes where depth of the dip gives them. `tone_known`: the header
/// says how grey value depends on exposure.
void state_gap(const JointFitInput& in, const AxisFrame& axis, bool tone_known, const Side& minus,
               const Side& plus, JointMeasures* m);

/// A gap tall enough to have edges of its own. Sizes come from them, not from grey values, so the
/// tone need not be known. Half level lies at mid-depth whatever the angle; the ramp from near to
/// far rim goes into U.
void state_wide_slit(const WideSlit& slit, const JointFitInput& in, double scale_u_relative,
                     const AxisFrame& axis, JointMeasures* m);

/// For m->design: of a joint not known to be a butt joint the larger limits hold.
void state_limit(const GapLimit& limit, JointMeasures* m);

/// A joint that was not read has no limit either.
JointMeasures unread(JointMeasures m, const std::string& reason, const std::string& bounded_by);

}  // namespace crestgate
