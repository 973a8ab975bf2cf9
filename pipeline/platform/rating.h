// How likely the platform is at each height of an end, as learned. Private to this folder.
#pragma once
#include <vector>

#include "pipeline/platform/cues.h"

namespace crestgate {

/// Logarithms of odds, up to a constant of the picture.
struct Rating {
  std::vector<double> height;  ///< per row of the table
  double nowhere = 0.0;        ///< the platform is at none of them (hidden, cut off, the wrong end)
};

/// Of a table with at least one row.
Rating rated(const CueTable& table);

}  // namespace crestgate
