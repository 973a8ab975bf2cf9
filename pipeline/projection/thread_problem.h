// The thread model against one signal's harmonics: residuals over noise with the gains solved for,
// and what is known beforehand. Unknowns as one array, so that an optimiser can drive them.
#pragma once
#include <array>
#include <optional>

#include "pipeline/projection/thread_model.h"
#include "pipeline/projection/thread_signal.h"

namespace crestgate {

inline constexpr int kGains = 7;
inline constexpr int kResiduals = 2 * kHarmonics * kThreadColumns;
inline constexpr int kPriors = 9;

enum ThreadUnknown {
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
  kAttenuation,
  kVeil,
  kUnknowns
};

/// Allowed range of each unknown.
struct Bound {
  double low, high;
};
extern const Bound kThreadBounds[kUnknowns];

using ThreadValues = std::array<double, kUnknowns>;

class ThreadProblem {
 public:
  ThreadProblem(const ThreadSignal& signal, std::optional<double> blur_sigma_px);

  /// Chi-square of "no thread at all".
  double power() const { return power_; }
  int usable_values() const;
  const ThreadSignal& signal() const { return signal_; }
  Harmonics model(const ThreadValues& p, int starts) const;

  /// Residuals over noise (kResiduals) and prior terms (kPriors) into `out` if given; chi-square.
  double residuals(const ThreadValues& p, int starts, double* out,
                   std::array<double, kThreadColumns>* gain_out = nullptr) const;
  /// The same for a model already evaluated.
  double residuals(const Harmonics& path, const ThreadValues& p, double* out,
                   std::array<double, kThreadColumns>* gain_out = nullptr) const;

  /// Phase that best aligns harmonic 1 of the model with the data.
  double best_phase(const Harmonics& model) const;

 private:
  const ThreadSignal& signal_;
  double winding_;
  double power_ = 0;
  double expected_blur_ = 1.0, blur_log_sd_ = 0.7;  ///< columns; natural logarithm
  double expected_depth_ = 0.15;                    ///< crest radii
  std::array<int, kThreadColumns> knot_{};
  std::array<double, kThreadColumns> share_{};
};

}  // namespace crestgate
