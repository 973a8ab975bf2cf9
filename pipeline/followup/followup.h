// Stage follow-up: an image already analysed against earlier images of the same implant. Pure.
#pragma once
#include <optional>
#include <vector>

#include "config/rules.h"
#include "pipeline/followup/tone_map.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

struct ComparisonInput {
  const Frame& frame;
  const Analysis& analysis;  ///< with its acquisition
};

struct Compared {
  Comparison comparison;
  std::vector<Subtraction> pictures;  ///< one per implant compared
};

/// Identity, geometry, comparability, harmonised grey values, change. States of changes are settled
/// by settle_comparisons, over all comparisons of one image.
Compared compare_with(const ComparisonInput& now, const ComparisonInput& before,
                      const Rules& rules);

/// Holm over all sites, then findings ('bone change resolved', 'processing changed'), reasons and
/// advice of `analysis`, whose `comparisons` have been filled.
void settle_comparisons(Analysis& analysis, const Rules& rules);

/// Years between two dates YYYYMMDD..., if both are dates.
std::optional<double> years_between(const std::string& from, const std::string& to);

}  // namespace crestgate
