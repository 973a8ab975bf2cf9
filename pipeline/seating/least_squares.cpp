#include "pipeline/seating/least_squares.h"

#include <vnl/algo/vnl_levenberg_marquardt.h>
#include <vnl/algo/vnl_symmetric_eigensystem.h>
#include <vnl/vnl_least_squares_function.h>

#include <algorithm>
#include <cmath>

namespace crestgate {
namespace {

// Unknowns in units of their step, so that one finite-difference width suits all.
class Scaled : public vnl_least_squares_function {
 public:
  Scaled(const Residuals& f, int residual_count, const std::vector<double>& step)
      : vnl_least_squares_function(static_cast<unsigned>(step.size()),
                                   static_cast<unsigned>(residual_count), no_gradient),
        f_(f),
        step_(step) {}

  std::vector<double> unscaled(const vnl_vector<double>& x) const {
    std::vector<double> p(step_.size());
    for (std::size_t i = 0; i < p.size(); ++i) p[i] = x[i] * step_[i];
    return p;
  }
  void f(const vnl_vector<double>& x, vnl_vector<double>& fx) override {
    f_(unscaled(x), fx.data_block());
  }

 private:
  const Residuals& f_;
  const std::vector<double>& step_;
};

std::vector<double> inverse_of(const vnl_matrix<double>& normal, const std::vector<double>& step) {
  const vnl_symmetric_eigensystem<double> eigen(normal);
  const unsigned n = normal.rows();
  double largest = 0.0;
  for (unsigned i = 0; i < n; ++i) largest = std::max(largest, eigen.get_eigenvalue(i));
  std::vector<double> inverse(static_cast<std::size_t>(n) * n, 0.0);
  for (unsigned k = 0; k < n; ++k) {
    const double value = std::max(eigen.get_eigenvalue(k), 1e-10 * largest + 1e-300);
    const vnl_vector<double> e = eigen.get_eigenvector(k);
    for (unsigned i = 0; i < n; ++i)
      for (unsigned j = 0; j < n; ++j)
        inverse[i * n + j] += e[i] * e[j] / value * step[i] * step[j];
  }
  return inverse;
}

}  // namespace

LeastSquares least_squares(const Residuals& f, int residual_count, std::vector<double> start,
                           const std::vector<double>& step, int most_evaluations) {
  const unsigned n = static_cast<unsigned>(step.size()), m = static_cast<unsigned>(residual_count);
  Scaled function(f, residual_count, step);
  vnl_levenberg_marquardt optimiser(function);
  optimiser.set_max_function_evals(most_evaluations);
  optimiser.set_epsilon_function(1e-3);
  optimiser.set_f_tolerance(1e-5);
  optimiser.set_x_tolerance(1e-4);
  vnl_vector<double> x(n);
  for (unsigned i = 0; i < n; ++i) x[i] = start[i] / step[i];
  optimiser.minimize(x);

  LeastSquares result;
  result.unknowns = function.unscaled(x);
  result.residuals = residual_count;
  vnl_vector<double> here(m), up(m), down(m);
  function.f(x, here);
  result.sum_of_squares = here.squared_magnitude();
  vnl_matrix<double> jacobian(m, n);
  for (unsigned i = 0; i < n; ++i) {
    vnl_vector<double> y = x;
    y[i] = x[i] + 0.2;
    function.f(y, up);
    y[i] = x[i] - 0.2;
    function.f(y, down);
    jacobian.set_column(i, (up - down) / 0.4);
  }
  result.inverse_normal = inverse_of(jacobian.transpose() * jacobian, step);
  return result;
}

}  // namespace crestgate
