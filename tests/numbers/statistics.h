// Small statistics for the accuracy report: quantiles, exact binomial bounds.
#pragma once
#include <vector>

namespace crestgate::numbers {

/// Empirical quantile (nearest rank), q in 0..1; NaN if empty.
double quantile(std::vector<double> values, double q);

/// Clopper-Pearson bounds (Biometrika 1934;26:404-413) for k of n at two-sided confidence 1 -
/// alpha.
struct Bounds {
  double low = 0, high = 1;
};
Bounds binomial_bounds(int k, int n, double alpha);

}  // namespace crestgate::numbers
