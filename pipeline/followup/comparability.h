// What of two exposures of one implant differs, and whether that forbids to compare them.
#pragma once
#include <string>
#include <vector>

#include "config/rules.h"
#include "pipeline/followup/registration.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

struct Comparability {
  std::vector<std::string> refusals;  ///< not comparable, because of these
  std::vector<std::string> limits;    ///< comparable; to be known by the reader
};

/// Detector, exposure, processing: what the headers say.
Comparability compare_acquisition(const Acquisition& now, const Acquisition& before,
                                  const Language& text = {});

/// Projection: angles, scale, what is left after registration; fills the figures of `result`.
Comparability compare_projection(const Analysis& now, const Analysis& before,
                                 const Registration& registration, const Rules& rules,
                                 ImplantComparison& result);

}  // namespace crestgate
