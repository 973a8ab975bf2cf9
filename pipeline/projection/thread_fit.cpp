#include "pipeline/projection/thread_fit.h"

#include <vnl/algo/vnl_levenberg_marquardt.h>
#include <vnl/vnl_least_squares_function.h>

#include <algorithm>
#include <cmath>

#include "config/units.h"

namespace crestgate {
namespace {

constexpr int kGains = 7;
constexpr int kResiduals = 2 * kHarmonics * kThreadColumns;
constexpr int kPriors = 8;

enum Unknown {
  kTheta,
  kPhase,
  kDepth,
  kRoot,
  kCrest,
  kSkew,
  kBlur,
  kTurn,
  kOffset,
  kTilt,
  kRadius,
  kBend,
  kUnknowns
};

struct Bound {
  double low, high;
};
// Widths and depths of threads that can be cut; small corrections of the given axis and radius.
constexpr Bound kBounds[kUnknowns] = {{-0.4, 0.4},   {-40, 40},     {0.03, 0.42}, {0.15, 0.5},
                                      {0.0, 0.45},   {-0.55, 0.55}, {0.3, 4.0},   {-0.03, 0.03},
                                      {-0.06, 0.06}, {-0.3, 0.3},   {0.92, 1.25}, {0.02, 30.0}};

/// Free variable -> bounded value (logistic), so that an unbounded optimiser respects the bounds.
double bounded(double free, int i) {
  return kBounds[i].low + (kBounds[i].high - kBounds[i].low) / (1 + std::exp(-free));
}
double unbounded(double value, int i) {
  const double t =
      std::clamp((value - kBounds[i].low) / (kBounds[i].high - kBounds[i].low), 1e-4, 1 - 1e-4);
  return std::log(t / (1 - t));
}

using Values = std::array<double, kUnknowns>;

/// Non-negative least squares on normal equations by cyclic coordinate descent (convex, small).
void solve_gains(const double a[kGains][kGains], const double b[kGains], double gains[kGains]) {
  for (int i = 0; i < kGains; ++i) gains[i] = a[i][i] > 0 ? std::max(0.0, b[i] / a[i][i]) : 0.0;
  for (int sweep = 0; sweep < 60; ++sweep)
    for (int i = 0; i < kGains; ++i) {
      if (a[i][i] <= 0) continue;
      double rest = b[i];
      for (int j = 0; j < kGains; ++j)
        if (j != i) rest -= a[i][j] * gains[j];
      gains[i] = std::max(0.0, rest / a[i][i]);
    }
}

class Problem {
 public:
  Problem(const ThreadSignal& signal, std::optional<double> blur_sigma_px)
      : signal_(signal), winding_(2 * kPi * signal.crest_radius_px / signal.pitch_px) {
    const double column_px = signal.crest_radius_px * 2 * kWidestX / (kThreadColumns - 1);
    if (blur_sigma_px) expected_blur_ = std::clamp(*blur_sigma_px / column_px, 0.35, 3.5);
    if (blur_sigma_px) blur_log_sd_ = 0.3;
    expected_depth_ = std::clamp(1.2 * signal.depth_px / signal.crest_radius_px + 0.02, 0.04, 0.4);
    for (int c = 0; c < kThreadColumns; ++c) {
      const double t = std::abs(thread_column_x(c)) / kWidestX * (kGains - 1);
      const int i = std::min(kGains - 2, static_cast<int>(t));
      knot_[c] = i;
      share_[c] = t - i;
    }
    for (int k = 0; k < kHarmonics; ++k)
      for (int c = 0; c < kThreadColumns; ++c)
        if (signal.noise[k][c] > 0)
          power_ += std::norm(signal.amplitude[k][c]) / std::pow(signal.noise[k][c], 2);
  }

  double winding() const { return winding_; }
  double power() const { return power_; }
  int usable_values() const {
    int n = 0;
    for (const auto& row : signal_.noise)
      for (const double sd : row) n += sd > 0 ? 2 : 0;
    return n;
  }

  /// Residuals over noise (kResiduals) and prior terms (kPriors); returns chi-square.
  double residuals(const Values& p, int starts, double* out,
                   std::array<double, kThreadColumns>* gain_out = nullptr) const {
    return residuals(model(p, starts), p, out, gain_out);
  }

  Harmonics model(const Values& p, int starts) const {
    return thread_harmonics(p[kTheta], starts, winding_, {p[kDepth], p[kRoot], p[kCrest], p[kSkew]},
                            {p[kOffset], p[kRadius], p[kBlur], p[kBend]});
  }

  /// The linear part for a model already evaluated.
  double residuals(const Harmonics& path, const Values& p, double* out,
                   std::array<double, kThreadColumns>* gain_out = nullptr) const {
    Harmonics turned;
    double a[kGains][kGains] = {}, b[kGains] = {};
    for (int k = 0; k < kHarmonics; ++k)
      for (int c = 0; c < kThreadColumns; ++c) {
        const double sd = signal_.noise[k][c];
        if (sd <= 0) continue;
        const double x = thread_column_x(c);
        const auto m = path[k][c] * (1 + p[kTilt] * x) / sd *
                       std::polar(1.0, -(k + 1) * (p[kPhase] + winding_ * p[kTurn] * x));
        turned[k][c] = m;
        const double mm = std::norm(m), s = share_[c], r = 1 - s;
        const int i = knot_[c];
        a[i][i] += r * r * mm;
        a[i + 1][i + 1] += s * s * mm;
        a[i][i + 1] += r * s * mm;
        const double md = std::real(std::conj(m) * signal_.amplitude[k][c]) / sd;
        b[i] += r * md;
        b[i + 1] += s * md;
      }
    for (int i = 0; i + 1 < kGains; ++i) a[i + 1][i] = a[i][i + 1];
    double gains[kGains];
    solve_gains(a, b, gains);
    if (gain_out)
      for (int c = 0; c < kThreadColumns; ++c)
        (*gain_out)[c] = gains[knot_[c]] * (1 - share_[c]) + gains[knot_[c] + 1] * share_[c];
    double sum = 0;
    for (int k = 0; k < kHarmonics; ++k)
      for (int c = 0; c < kThreadColumns; ++c) {
        const double sd = signal_.noise[k][c];
        std::complex<double> r = 0;
        if (sd > 0) {
          const int i = knot_[c];
          r = signal_.amplitude[k][c] / sd -
              turned[k][c] * (gains[i] * (1 - share_[c]) + gains[i + 1] * share_[c]);
        }
        const int at = 2 * (k * kThreadColumns + c);
        if (out) out[at] = r.real(), out[at + 1] = r.imag();
        sum += std::norm(r);
      }
    // What is known before the fit: the axis and radius the silhouette gave, its depth (rounded by
    // blur), the blur measured at the image's metal edges, and that films are aimed: angles beyond
    // 20 degrees are rare (common practice).
    const double priors[kPriors] = {p[kTurn] / 0.01,
                                    p[kOffset] / 0.03,
                                    p[kTilt] / 0.15,
                                    (p[kRadius] - 1.06) / 0.07,
                                    std::log(p[kBend] / 0.6) / 1.0,
                                    std::log(p[kBlur] / expected_blur_) / blur_log_sd_,
                                    std::log(p[kDepth] / expected_depth_) / 0.4,
                                    p[kTheta] / radians(10)};
    for (int i = 0; i < kPriors; ++i) {
      if (out) out[kResiduals + i] = priors[i];
      sum += priors[i] * priors[i];
    }
    return sum;
  }

  /// Phase that best aligns harmonic 1 of the model with the data.
  double best_phase(const Harmonics& model) const {
    std::complex<double> sum = 0;
    for (int c = 0; c < kThreadColumns; ++c)
      if (signal_.noise[0][c] > 0)
        sum += signal_.amplitude[0][c] * std::conj(model[0][c]) / std::pow(signal_.noise[0][c], 2);
    return -std::arg(sum);
  }

 private:
  const ThreadSignal& signal_;
  double winding_;
  double power_ = 0;
  double expected_blur_ = 1.0, blur_log_sd_ = 0.7;  ///< columns; natural logarithm
  double expected_depth_ = 0.15;                    ///< crest radii
  std::array<int, kThreadColumns> knot_{};
  std::array<double, kThreadColumns> share_{};
};

/// Adapter: all unknowns free, or all but theta.
class Least : public vnl_least_squares_function {
 public:
  Least(const Problem& problem, int starts, const double* fixed_theta)
      : vnl_least_squares_function(fixed_theta ? kUnknowns - 1 : kUnknowns, kResiduals + kPriors,
                                   no_gradient),
        problem_(problem),
        starts_(starts),
        fixed_theta_(fixed_theta) {}

  Values values(const vnl_vector<double>& x) const {
    Values p;
    int at = 0;
    for (int i = 0; i < kUnknowns; ++i)
      p[i] = i == kTheta && fixed_theta_ ? *fixed_theta_ : bounded(x[at++], i);
    return p;
  }
  vnl_vector<double> start(const Values& p) const {
    vnl_vector<double> x(get_number_of_unknowns());
    int at = 0;
    for (int i = 0; i < kUnknowns; ++i)
      if (!(i == kTheta && fixed_theta_)) x[at++] = unbounded(p[i], i);
    return x;
  }
  void f(const vnl_vector<double>& x, vnl_vector<double>& fx) override {
    problem_.residuals(values(x), starts_, fx.data_block());
  }

 private:
  const Problem& problem_;
  int starts_;
  const double* fixed_theta_;
};

struct Candidate {
  Values values;
  int starts;
  double chi_square;
};

Candidate refine(const Problem& problem, Candidate c, const double* fixed_theta, int evaluations) {
  if (fixed_theta) c.values[kTheta] = *fixed_theta;
  Least least(problem, c.starts, fixed_theta);
  vnl_vector<double> x = least.start(c.values);
  vnl_levenberg_marquardt optimiser(least);
  optimiser.set_f_tolerance(1e-5);
  optimiser.set_x_tolerance(1e-5);
  optimiser.set_max_function_evals(evaluations);
  optimiser.set_epsilon_function(1e-9);
  optimiser.minimize(x);
  const Values values = least.values(x);
  const double chi_square = problem.residuals(values, c.starts, nullptr);
  if (chi_square < problem.residuals(c.values, c.starts, nullptr))
    return {values, c.starts, chi_square};
  c.chi_square = problem.residuals(c.values, c.starts, nullptr);
  return c;
}

/// Coarse look at every (starts, theta, profile) without optimising anything but the phase.
std::vector<Candidate> scan(const Problem& problem, double widest) {
  const ThreadShape profiles[] = {{0.10, 0.48, 0.10, 0.0},
                                  {0.20, 0.45, 0.12, 0.0},
                                  {0.20, 0.30, 0.20, 0.0},
                                  {0.15, 0.48, 0.05, 0.35},
                                  {0.15, 0.48, 0.05, -0.35}};
  std::vector<Candidate> result;
  const int steps = static_cast<int>(std::ceil(widest / radians(1.0)));
  for (int starts = 1; starts <= 3; ++starts) {
    std::vector<Candidate> line;
    for (int s = -steps; s <= steps; ++s) {
      Candidate best{{}, starts, 1e300};
      for (const ThreadShape& shape : profiles) {
        const double theta = radians(s);
        Values p{};
        p[kTheta] = theta;
        p[kDepth] = shape.depth, p[kRoot] = shape.root_width;
        p[kCrest] = shape.crest_width, p[kSkew] = shape.skew;
        p[kBlur] = 1.2, p[kRadius] = 1.06, p[kBend] = 0.6;
        const Harmonics model = problem.model(p, starts);
        p[kPhase] = problem.best_phase(model);
        for (int flip = 0; flip < 2; ++flip, p[kPhase] += kPi)
          if (const double chi = problem.residuals(model, p, nullptr); chi < best.chi_square)
            best = {p, starts, chi};
      }
      line.push_back(best);
    }
    // Local minima along theta are the starts worth refining.
    for (std::size_t i = 0; i < line.size(); ++i) {
      const bool left = i == 0 || line[i].chi_square <= line[i - 1].chi_square;
      const bool right = i + 1 == line.size() || line[i].chi_square <= line[i + 1].chi_square;
      if (left && right) result.push_back(line[i]);
    }
  }
  std::sort(result.begin(), result.end(),
            [](const Candidate& a, const Candidate& b) { return a.chi_square < b.chi_square; });
  return result;
}

/// Second derivative of chi-square in theta with everything else re-optimised.
double profile_curvature(const Problem& problem, const Candidate& best) {
  const double step = radians(0.75);
  double rise = 0;
  for (const double side : {-step, step}) {
    const double theta = best.values[kTheta] + side;
    rise += refine(problem, best, &theta, 160).chi_square - best.chi_square;
  }
  return std::max(0.0, rise / (step * step));
}

}  // namespace

ThreadFit fit_thread(const ThreadSignal& signal, double widest_rad,
                     std::optional<double> blur_sigma_px) {
  ThreadFit fit;
  const Problem problem(signal, blur_sigma_px);
  const int values = problem.usable_values();
  if (values < 60) return fit;

  std::vector<Candidate> candidates = scan(problem, widest_rad);
  if (candidates.size() > 8) candidates.resize(8);
  for (Candidate& c : candidates) c = refine(problem, c, nullptr, 150);
  std::sort(candidates.begin(), candidates.end(),
            [](const Candidate& a, const Candidate& b) { return a.chi_square < b.chi_square; });
  for (std::size_t i = 0; i < std::min<std::size_t>(3, candidates.size()); ++i)
    candidates[i] = refine(problem, candidates[i], nullptr, 500);
  std::sort(candidates.begin(), candidates.end(),
            [](const Candidate& a, const Candidate& b) { return a.chi_square < b.chi_square; });

  fit.residual_variance =
      std::max(1e-9, candidates.front().chi_square / std::max(1, values - kUnknowns - kGains));
  fit.explained = 1 - candidates.front().chi_square / std::max(1e-9, problem.power());
  for (const Candidate& c : candidates) {
    ThreadMode mode;
    mode.theta_rad = c.values[kTheta];
    mode.starts = c.starts;
    mode.minus_two_log_likelihood = c.chi_square / fit.residual_variance;
    mode.tilt = c.values[kTilt];
    mode.view = {c.values[kOffset], c.values[kRadius], c.values[kBlur], c.values[kBend]};
    problem.residuals(c.values, c.starts, nullptr, &mode.gain);
    mode.shape = {c.values[kDepth], c.values[kRoot], c.values[kCrest], c.values[kSkew]};
    if (fit.modes.empty()) mode.curvature = profile_curvature(problem, c) / fit.residual_variance;
    fit.modes.push_back(mode);
  }
  return fit;
}

}  // namespace crestgate
