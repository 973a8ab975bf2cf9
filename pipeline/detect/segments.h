// Piecewise straight description of a silhouette: where both flanks change their course together.
#pragma once
#include <vector>

namespace crestgate {

/// One stretch between breaks, per flank (0 = minus, 1 = plus): outward edge position at its two
/// ends and slope (px per sample).
struct Segment {
  int first = 0, last = 0;
  double at_first[2] = {0, 0}, at_last[2] = {0, 0};
  double slope[2] = {0, 0};
  double at(int side, double sample) const {
    return at_first[side] + slope[side] * (sample - first);
  }
};

/// Optimal partition (dynamic programming, Bayesian information penalty) of both outward edges;
/// NaN samples are left out. `sigma_px` is the edge noise after a running median of 5.
std::vector<Segment> split_silhouette(const std::vector<double>& minus_out,
                                      const std::vector<double>& plus_out, double sigma_px,
                                      int shortest);

}  // namespace crestgate
