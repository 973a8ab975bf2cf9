// The pipeline's one entry point: detect -> measure -> judge on an image already read.
// Pure: same inputs, same result; no log, clock, network or globals. Never throws.
#pragma once
#include "config/rules.h"
#include "pipeline/followup/tone_map.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// What the node knows that the image does not say.
struct Circumstances {
  int attempt = 1;  ///< how many exposures of this site this visit, this one included
};

Analysis inspect(const Frame& frame, const Acquisition& acquisition, const Rules& rules,
                 const Circumstances& circumstances = {});

/// An earlier image, read.
struct EarlierImage {
  Frame frame;
  Acquisition acquisition;
};

struct ComparedEarlier {
  std::vector<Subtraction> pictures;  ///< what the subtraction pictures show
  std::vector<Analysis> baselines;    ///< as inspected, in the order of Analysis::comparisons
};

/// Inspects the earlier images (oldest first) and compares `analysis` (of `frame`) with those the
/// rule follow_up.baseline names: fills comparisons, findings, reasons.
ComparedEarlier compare_with_earlier(Analysis& analysis, const Frame& frame,
                                     const std::vector<EarlierImage>& earlier, const Rules& rules);

}  // namespace crestgate
