// Order statistics shared by the stages.
#pragma once
#include <vector>

namespace crestgate {

/// Upper median of the finite values; NaN if there is none.
double median_of(std::vector<double> values);

}  // namespace crestgate
