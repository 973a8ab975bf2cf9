// The change of one implant's crest between two registered images, with its GUM budget, and the
// decision over all sites of a comparison.
#pragma once
#include <vector>

#include "config/rules.h"
#include "pipeline/followup/registration.h"
#include "pipeline/followup/tone_map.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

struct PairInput {
  const Frame& harmonised;  ///< follow-up on the baseline's grey values
  const Implant& now;
  const Implant& before;
  const QualityMeasures& quality_now;
  const Scale& scale_now;
  const Registration& registration;
  const ToneMap& tones;
  /// Turns between the exposures that can be seen: vertical angle, picture plane.
  std::vector<double> seen_turns_deg;
};

/// What both images share cancels in the difference (GUM 5.2.2, F.1.2.3): the same bone's edge is
/// read by one model. Image noise does not. Image left/right of the follow-up. State stays
/// within_error until resolve_changes has judged.
LeftRight<CrestChange> crest_changes(const PairInput& input, const Rules& rules);

/// Two-sided p-values of independent sites at a family-wise rate of 5 %: which are significant.
/// Holm S. Scand J Stat 1979;6:65-70 (from memory). `multiple`: the k each site was held to.
struct HolmResult {
  std::vector<bool> resolved;
  std::vector<double> multiple;
};
HolmResult holm(const std::vector<double>& z, double family_rate = 0.05);

/// Settles state and smallest resolvable change of all sites of all comparisons with one follow-up:
/// resolved only if |change| > U (k = 2) and significant by Holm. Rates where `years` are known.
void resolve_changes(std::vector<Comparison>& comparisons);

/// Quantile of the standard normal distribution, by bisection on erfc.
double normal_quantile(double p);

}  // namespace crestgate
