// The bone's edge beside a flank as a smooth line, continued to the flank. Private to this folder.
#pragma once
#include <vector>

namespace crestgate {

/// Where the edge was seen: distance from the flank line and place along the axis, px.
struct EdgePoints {
  std::vector<double> d, v, weight;
};

/// v = a + b d + c d^2.
struct EdgeLine {
  double a = 0.0, b = 0.0, c = 0.0;
  double sd_a = 0.0;  ///< standard uncertainty of a, neighbouring columns not independent
};

/// Iteratively reweighted least squares (Huber) with a prior on the curvature.
EdgeLine fit_edge_line(const EdgePoints& points, double px_per_mm);

}  // namespace crestgate
