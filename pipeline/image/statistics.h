// Order statistics shared by the stages.
#pragma once
#include <vector>

namespace crestgate {

/// Upper median of the finite values; NaN if there is none.
double median_of(std::vector<double> values);

/// Lower quantile at `share` in 0..1 of finite values; reorders them; NaN if there is none.
double quantile_of(std::vector<float>& values, double share);
double median_of(std::vector<float>& values);

}  // namespace crestgate
