#include "pipeline/projection/thread_fit.h"

#include <vnl/algo/vnl_levenberg_marquardt.h>
#include <vnl/vnl_least_squares_function.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

#include "config/units.h"
#include "pipeline/projection/thread_problem.h"

namespace crestgate {
namespace {

/// Chi-square per degree of freedom beyond which the model, not the noise, is what misfits.
constexpr double kNoiseAlone = 0.8;
constexpr int kFewestValues = 60;  ///< real numbers; the model has 19 unknowns

/// Free variable -> bounded value (logistic), so that an unbounded optimiser respects the bounds.
double bounded(double free, int i) {
  return kThreadBounds[i].low +
         (kThreadBounds[i].high - kThreadBounds[i].low) / (1 + std::exp(-free));
}
double unbounded(double value, int i) {
  const double t =
      std::clamp((value - kThreadBounds[i].low) / (kThreadBounds[i].high - kThreadBounds[i].low),
                 1e-4, 1 - 1e-4);
  return std::log(t / (1 - t));
}

/// Adapter: all unknowns free, or all but theta.
class Least : public vnl_least_squares_function {
 public:
  Least(const ThreadProblem& problem, int starts, const double* fixed_theta)
      : vnl_least_squares_function(fixed_theta ? kUnknowns - 1 : kUnknowns, kResiduals + kPriors,
                                   use_gradient),
        problem_(problem),
        starts_(starts),
        fixed_theta_(fixed_theta) {}

  ThreadValues values(const vnl_vector<double>& x) const {
    ThreadValues p;
    int at = 0;
    for (int i = 0; i < kUnknowns; ++i)
      p[i] = i == kTheta && fixed_theta_ ? *fixed_theta_ : bounded(x[at++], i);
    return p;
  }
  vnl_vector<double> start(const ThreadValues& p) const {
    vnl_vector<double> x(get_number_of_unknowns());
    int at = 0;
    for (int i = 0; i < kUnknowns; ++i)
      if (!(i == kTheta && fixed_theta_)) x[at++] = unbounded(p[i], i);
    return x;
  }
  void f(const vnl_vector<double>& x, vnl_vector<double>& fx) override {
    problem_.residuals(values(x), starts_, fx.data_block());
  }
  /// Forward differences; the model is evaluated only for unknowns that it depends on.
  void gradf(const vnl_vector<double>& x, vnl_matrix<double>& jacobian) override {
    constexpr double kStep = 1e-4;
    const ThreadValues here = values(x);
    const Harmonics model = problem_.model(here, starts_);
    std::vector<double> base(kResiduals + kPriors), moved(kResiduals + kPriors);
    problem_.residuals(model, here, base.data());
    int column = 0;
    for (int i = 0; i < kUnknowns; ++i) {
      if (i == kTheta && fixed_theta_) continue;
      vnl_vector<double> there = x;
      there[column] += kStep;
      const ThreadValues p = values(there);
      if (i == kPhase || i == kTurn || i == kTilt)
        problem_.residuals(model, p, moved.data());
      else
        problem_.residuals(p, starts_, moved.data());
      for (int r = 0; r < kResiduals + kPriors; ++r)
        jacobian(r, column) = (moved[r] - base[r]) / kStep;
      ++column;
    }
  }

 private:
  const ThreadProblem& problem_;
  int starts_;
  const double* fixed_theta_;
};

struct Candidate {
  ThreadValues values;
  int starts;
  double chi_square;
};

Candidate refine(const ThreadProblem& problem, Candidate c, const double* fixed_theta,
                 int iterations) {
  if (fixed_theta) c.values[kTheta] = *fixed_theta;
  Least least(problem, c.starts, fixed_theta);
  vnl_vector<double> x = least.start(c.values);
  vnl_levenberg_marquardt optimiser(least);
  optimiser.set_f_tolerance(1e-5);
  optimiser.set_x_tolerance(1e-5);
  optimiser.set_max_function_evals(iterations);
  optimiser.minimize(x);
  const ThreadValues values = least.values(x);
  const double chi_square = problem.residuals(values, c.starts, nullptr);
  if (chi_square < problem.residuals(c.values, c.starts, nullptr))
    return {values, c.starts, chi_square};
  c.chi_square = problem.residuals(c.values, c.starts, nullptr);
  return c;
}

/// A fit that ends at a bound of the angle or of the corrections to the silhouette's axis and
/// radius has not found a thread there but something else that the bound kept it from following
/// further.
bool inside_bounds(const Candidate& c) {
  constexpr double kMargin = 0.02;  // of the range
  for (const int i : {int{kTheta}, int{kOffset}, int{kTilt}, int{kRadius}}) {
    const double range = kThreadBounds[i].high - kThreadBounds[i].low;
    if (c.values[i] < kThreadBounds[i].low + kMargin * range ||
        c.values[i] > kThreadBounds[i].high - kMargin * range)
      return false;
  }
  return true;
}

constexpr ThreadShape kProfiles[] = {{0.10, 0.48, 0.10, 0.0},
                                     {0.20, 0.45, 0.12, 0.0},
                                     {0.20, 0.30, 0.20, 0.0},
                                     {0.15, 0.48, 0.05, 0.35},
                                     {0.15, 0.48, 0.05, -0.35}};

/// The first candidate of every number of starts, tried again from every profile: where the noise
/// is small the profile has minima of its own, and the number of starts that happens to reach a
/// good one would win by it.
void retry_profiles(const ThreadProblem& problem, std::vector<Candidate>* candidates) {
  bool tried[4] = {};
  for (Candidate& c : *candidates) {
    if (std::exchange(tried[c.starts], true)) continue;
    const Candidate first = c;
    for (const ThreadShape& shape : kProfiles) {
      Candidate again = first;
      again.values[kDepth] = shape.depth, again.values[kRoot] = shape.root_width;
      again.values[kCrest] = shape.crest_width, again.values[kSkew] = shape.skew;
      again.chi_square = std::numeric_limits<double>::infinity();
      again = refine(problem, again, nullptr, 25);
      if (again.chi_square < c.chi_square) c = again;
    }
  }
}

/// Coarse look at every (starts, theta, profile) without optimising anything but the phase.
std::vector<Candidate> scan(const ThreadProblem& problem, double widest, double step) {
  std::vector<Candidate> result;
  const int steps = static_cast<int>(std::ceil(widest / step));
  for (int starts = 1; starts <= 3; ++starts) {
    std::vector<Candidate> line;
    for (int s = -steps; s <= steps; ++s) {
      Candidate best{{}, starts, 1e300};
      for (const ThreadShape& shape : kProfiles) {
        const double theta = s * step;
        ThreadValues p{};
        p[kTheta] = theta;
        p[kDepth] = shape.depth, p[kRoot] = shape.root_width;
        p[kCrest] = shape.crest_width, p[kSkew] = shape.skew;
        p[kBlur] = 1.2, p[kRadius] = 1.06, p[kAttenuation] = 1.3, p[kVeil] = 0.2;
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

/// What the candidate takes off the chi-square of "no thread" on either flank (u < 0, u > 0).
void flank_evidence(const ThreadProblem& problem, const Candidate& c, double (&evidence)[2]) {
  std::vector<double> out(kResiduals + kPriors);
  problem.residuals(c.values, c.starts, out.data());
  const ThreadSignal& signal = problem.signal();
  for (int k = 0; k < kHarmonics; ++k)
    for (int i = 0; i < kThreadColumns; ++i) {
      const double x = thread_column_x(i);
      if (std::abs(x) < 0.5 || signal.noise[k][i] <= 0) continue;
      const std::size_t at = 2 * (k * kThreadColumns + i);
      evidence[x > 0] += std::norm(signal.amplitude[k][i] / signal.noise[k][i]) -
                         std::norm(std::complex<double>{out[at], out[at + 1]});
    }
}

/// Second derivative of chi-square in theta with everything else re-optimised.
double profile_curvature(const ThreadProblem& problem, const Candidate& best) {
  const double step = radians(0.75);
  double rise = 0;
  for (const double side : {-step, step}) {
    const double theta = best.values[kTheta] + side;
    rise += refine(problem, best, &theta, 15).chi_square - best.chi_square;
  }
  return std::max(0.0, rise / (step * step));
}

}  // namespace

double thread_evidence(const ThreadSignal& signal, double widest_rad,
                       std::optional<double> blur_sigma_px) {
  const ThreadProblem problem(signal, blur_sigma_px);
  if (problem.usable_values() < kFewestValues) return 0.0;
  const auto candidates = scan(problem, widest_rad, radians(2.5));
  return std::max(0.0, problem.power() - candidates.front().chi_square);
}

ThreadFit fit_thread(const ThreadSignal& signal, double widest_rad,
                     std::optional<double> blur_sigma_px) {
  ThreadFit fit;
  const ThreadProblem problem(signal, blur_sigma_px);
  const int values = problem.usable_values();
  if (values < kFewestValues) return fit;

  std::vector<Candidate> candidates = scan(problem, widest_rad, radians(1.0));
  const auto by_chi_square = [](const Candidate& a, const Candidate& b) {
    return a.chi_square < b.chi_square;
  };
  // Ever fewer candidates with ever more care; every number of starts keeps some, so that the
  // rivals' distance is known and not merely that they were worse in the coarse look.
  constexpr struct {
    int keep, of_each_starts, iterations;
  } kRounds[] = {{8, 3, 8}, {5, 2, 15}, {2, 1, 25}};
  for (const auto& round : kRounds) {
    int taken = 0, of_starts[4] = {};
    for (Candidate& c : candidates) {
      const int same = of_starts[c.starts]++;
      if (taken++ < round.keep || same < round.of_each_starts)
        c = refine(problem, c, nullptr, round.iterations);
      else
        c.chi_square = std::numeric_limits<double>::infinity();
    }
    std::sort(candidates.begin(), candidates.end(), by_chi_square);
    while (!std::isfinite(candidates.back().chi_square)) candidates.pop_back();
  }
  const double per_degree =
      candidates.front().chi_square / std::max(1, values - kUnknowns - kGains);
  if (per_degree > kNoiseAlone) {
    retry_profiles(problem, &candidates);
    std::sort(candidates.begin(), candidates.end(), by_chi_square);
  }
  candidates.erase(std::remove_if(candidates.begin(), candidates.end(),
                                  [](const Candidate& c) { return !inside_bounds(c); }),
                   candidates.end());
  if (candidates.empty()) return fit;

  // Not less than pure noise leaves (a complex amplitude shares its variance between two values):
  // beside a strong pattern the noise is overestimated, which must not sharpen the likelihood.
  fit.residual_variance =
      std::max(0.5, candidates.front().chi_square / std::max(1, values - kUnknowns - kGains));
  fit.evidence = problem.power() - candidates.front().chi_square;
  // Noise alone leaves half a unit per real value.
  const double noise = 0.5 * values;
  fit.explained = 1 - std::max(0.0, candidates.front().chi_square - noise) /
                          std::max(1.0, problem.power() - noise);
  flank_evidence(problem, candidates.front(), fit.flank_evidence);
  for (const Candidate& c : candidates) {
    ThreadMode mode;
    mode.theta_rad = c.values[kTheta];
    mode.starts = c.starts;
    mode.minus_two_log_likelihood = c.chi_square / fit.residual_variance;
    mode.tilt = c.values[kTilt];
    mode.view = {c.values[kOffset],      c.values[kRadius], c.values[kBlur],
                 c.values[kAttenuation], c.values[kVeil],   signal.clip_x};
    problem.residuals(c.values, c.starts, nullptr, &mode.gain);
    mode.shape = {c.values[kDepth], c.values[kRoot], c.values[kCrest], c.values[kSkew]};
    if (fit.modes.empty()) mode.curvature = profile_curvature(problem, c) / fit.residual_variance;
    fit.modes.push_back(mode);
  }
  return fit;
}

}  // namespace crestgate
