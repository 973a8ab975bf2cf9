#include "pipeline/projection/thread_problem.h"

#include <algorithm>
#include <cmath>

#include "config/units.h"

namespace crestgate {

// Widths and depths of threads that can be cut; small corrections of the given axis and radius.
const Bound kThreadBounds[kUnknowns] = {{-0.4, 0.4},   {-40, 40},     {0.03, 0.42}, {0.15, 0.5},
                                        {0.0, 0.45},   {-0.55, 0.55}, {0.3, 4.0},   {-0.03, 0.03},
                                        {-0.06, 0.06}, {-0.3, 0.3},   {0.92, 1.25}, {0.3, 5.0},
                                        {0.005, 20.0}};

namespace {

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

}  // namespace

ThreadProblem::ThreadProblem(const ThreadSignal& signal, std::optional<double> blur_sigma_px)
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

int ThreadProblem::usable_values() const {
  int n = 0;
  for (const auto& row : signal_.noise)
    for (const double sd : row) n += sd > 0 ? 2 : 0;
  return n;
}

double ThreadProblem::residuals(const ThreadValues& p, int starts, double* out,
                                std::array<double, kThreadColumns>* gain_out) const {
  return residuals(model(p, starts), p, out, gain_out);
}

Harmonics ThreadProblem::model(const ThreadValues& p, int starts) const {
  return thread_harmonics(
      p[kTheta], starts, winding_, {p[kDepth], p[kRoot], p[kCrest], p[kSkew]},
      {p[kOffset], p[kRadius], p[kBlur], p[kAttenuation], p[kVeil], signal_.clip_x});
}

double ThreadProblem::residuals(const Harmonics& path, const ThreadValues& p, double* out,
                                std::array<double, kThreadColumns>* gain_out) const {
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
                                  std::log(p[kAttenuation] / 1.3) / 0.35,
                                  std::log(p[kVeil] / 0.2) / 1.2,
                                  std::log(p[kBlur] / expected_blur_) / blur_log_sd_,
                                  std::log(p[kDepth] / expected_depth_) / 0.4,
                                  p[kTheta] / radians(10)};
  for (int i = 0; i < kPriors; ++i) {
    if (out) out[kResiduals + i] = priors[i];
    sum += priors[i] * priors[i];
  }
  return sum;
}

double ThreadProblem::best_phase(const Harmonics& model) const {
  std::complex<double> sum = 0;
  for (int c = 0; c < kThreadColumns; ++c)
    if (signal_.noise[0][c] > 0)
      sum += signal_.amplitude[0][c] * std::conj(model[0][c]) / std::pow(signal_.noise[0][c], 2);
  return -std::arg(sum);
}

}  // namespace crestgate
