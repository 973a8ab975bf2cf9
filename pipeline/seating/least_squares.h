// Levenberg-Marquardt on a residual function given as a lambda (vnl, numeric Jacobian).
#pragma once
#include <functional>
#include <vector>

namespace crestgate {

using Residuals = std::function<void(const std::vector<double>& unknowns, double* residuals)>;

struct LeastSquares {
  std::vector<double> unknowns;
  double sum_of_squares = 0.0;
  int residuals = 0;
  /// Inverse of J^T J, row-major; times the residual variance it is the covariance. Unknowns
  /// the data do not determine get a large variance, not an error.
  std::vector<double> inverse_normal;
  double variance(int i) const { return inverse_normal[i * unknowns.size() + i]; }
};

/// `step`: size of a step in each unknown that changes the residuals noticeably.
LeastSquares least_squares(const Residuals& f, int residual_count, std::vector<double> start,
                           const std::vector<double>& step, int most_evaluations);

}  // namespace crestgate
