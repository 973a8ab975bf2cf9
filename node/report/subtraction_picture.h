// The picture of a comparison: baseline, follow-up laid on it with equal grey values, difference.
#pragma once
#include "config/language.h"
#include "node/report/canvas.h"
#include "pipeline/followup/tone_map.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// Middle grey in the difference = no change; brighter = more radiopaque now.
Canvas draw_subtraction(const Subtraction& subtraction, const Analysis& analysis,
                        const Language& text);

}  // namespace crestgate
