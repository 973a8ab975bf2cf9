#include "pipeline/image/statistics.h"

#include <algorithm>
#include <cmath>

namespace crestgate {

double median_of(std::vector<double> values) {
  values.erase(
      std::remove_if(values.begin(), values.end(), [](double v) { return !std::isfinite(v); }),
      values.end());
  if (values.empty()) return std::nan("");
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

double quantile_of(std::vector<float>& values, double share) {
  if (values.empty()) return std::nan("");
  const auto at =
      values.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), at, values.end());
  return *at;
}

double median_of(std::vector<float>& values) { return quantile_of(values, 0.5); }

}  // namespace crestgate
