// The thread pattern of one implant as harmonics: for each column x across the body (u divided by
// the local crest radius) the complex amplitude of the grey values at 1, 2 and 3 times the pitch
// frequency along the axis. Tone curves, unsharp masks and local equalisation scale these
// amplitudes by a slowly varying positive factor; they do not move their phases or zeros.
#pragma once
#include <array>
#include <complex>
#include <vector>

#include "pipeline/projection/thread_columns.h"

namespace crestgate {

inline constexpr int kHarmonics = 3;

struct ThreadSignal {
  double v_begin_px = 0, v_end_px = 0;  ///< part of the axis analysed, from the platform
  double pitch_px = 0;                  ///< along the axis, in the image
  double crest_radius_px = 0;           ///< mean over the analysed part
  double depth_px = 0;                  ///< crest to root, from the silhouette (lower bound)
  double clip_x = 0;                    ///< white is reached within this |x|; 0 = nowhere
  double pitch_prominence = 0;          ///< spectral peak over the median of the spectrum
  std::array<std::array<std::complex<double>, kThreadColumns>, kHarmonics> amplitude{};
  /// Standard deviation of each amplitude from neighbouring frequencies; 0 = column not usable.
  std::array<std::array<double, kThreadColumns>, kHarmonics> noise{};
};

/// One signal for each period of the grey values that may be the thread's, none if there is too
/// little body in view: which of them a thread explains is for the fit to say.
/// Amplitude phase convention: exp(-2 pi i k z / pitch) with z = -v (positive coronal).
std::vector<ThreadSignal> thread_signals(const Frame& frame, const ImplantShape& shape,
                                         double v_begin_px, double v_end_px);

}  // namespace crestgate
