// Fit of the thread model to the measured harmonics. Amplitudes are related to path length by an
// unknown tone and processing; locally that is a positive gain, the same left and right of the axis
// up to a small tilt, so it is fitted as non-negative hat functions of |x| (variable projection).
// The likelihood in theta has rival modes (sign, starts, phase): all are searched and returned.
#pragma once
#include <optional>
#include <vector>

#include "pipeline/projection/thread_model.h"
#include "pipeline/projection/thread_signal.h"

namespace crestgate {

struct ThreadMode {
  double theta_rad = 0;
  int starts = 1;
  double minus_two_log_likelihood = 0;  ///< chi-square over the residual variance of the best mode
  double curvature = 0;                 ///< second derivative of the above in theta, per rad^2
  double tilt = 0;                      ///< gain grows by this share per crest radius to u > 0
  ThreadView view;
  ThreadShape shape;
  std::array<double, kThreadColumns> gain{};  ///< grey value per unit of path length, by column
};

struct ThreadFit {
  std::vector<ThreadMode> modes;  ///< best first
  double residual_variance = 0;   ///< chi-square per degree of freedom of the best mode
  double evidence = 0;            ///< chi-square that the best mode takes off "no thread"
  double explained = 0;           ///< share of the signal's power the best mode explains
  double flank_evidence[2] = {};  ///< as `evidence`, of the columns from half the radius outwards
};

/// `evidence` after a coarse search: which of several periods and stretches is a thread's. Noise is
/// each signal's own, so that a pattern that merely shares the period of a thread (bone texture, a
/// harmonic of the pitch) has little.
double thread_evidence(const ThreadSignal& signal, double widest_rad,
                       std::optional<double> blur_sigma_px);

/// Searches |theta| <= widest_rad, starts 1 to 3; blur_sigma_px from the image's edges, if known.
/// Empty `modes` if nothing could be fitted.
ThreadFit fit_thread(const ThreadSignal& signal, double widest_rad,
                     std::optional<double> blur_sigma_px);

}  // namespace crestgate
