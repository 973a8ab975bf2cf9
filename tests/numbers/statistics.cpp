#include "tests/numbers/statistics.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace crestgate::numbers {
namespace {

/// P(X <= k) for X ~ Binomial(n, p), summed in logarithms.
double binomial_cdf(int k, int n, double p) {
  if (p <= 0) return 1;
  if (p >= 1) return k >= n ? 1 : 0;
  double sum = 0;
  for (int i = 0; i <= k; ++i)
    sum += std::exp(std::lgamma(n + 1.0) - std::lgamma(i + 1.0) - std::lgamma(n - i + 1.0) +
                    i * std::log(p) + (n - i) * std::log1p(-p));
  return std::min(1.0, sum);
}

template <class F>
double bisect(F above, double low, double high) {
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (above(middle) ? high : low) = middle;
  }
  return 0.5 * (low + high);
}

}  // namespace

double quantile(std::vector<double> values, double q) {
  if (values.empty()) return std::numeric_limits<double>::quiet_NaN();
  std::sort(values.begin(), values.end());
  const auto rank = static_cast<std::size_t>(std::ceil(q * values.size()));
  return values[std::min(values.size() - 1, rank == 0 ? 0 : rank - 1)];
}

Bounds binomial_bounds(int k, int n, double alpha) {
  Bounds b;
  if (n <= 0) return b;
  if (k > 0)
    b.low = bisect([&](double p) { return 1 - binomial_cdf(k - 1, n, p) > alpha / 2; }, 0, 1);
  if (k < n) b.high = bisect([&](double p) { return binomial_cdf(k, n, p) < alpha / 2; }, 0, 1);
  return b;
}

}  // namespace crestgate::numbers
