// Whether the images of a comparison were processed alike: by their grey values (a map that is no
// straight line is another gamma, look-up table or equalisation; brightness, contrast and exposure
// alone leave it straight) and by what both headers state. Sharpening alone is not seen. Pure.
#pragma once
#include <vector>

#include "config/rules.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// Facts of the processing that both state, differently; in order of their keywords.
std::vector<StatedDifference> stated_differences(const Acquisition& now, const Acquisition& before);

/// Sets `processing` of every comparison and says what changed in its reasons and, under the rule,
/// in those of `analysis`; one finding 'processing changed' per image, of the newest such baseline.
/// An image without an implant gets no finding.
void settle_processing(Analysis& analysis, const Rules& rules);

}  // namespace crestgate
