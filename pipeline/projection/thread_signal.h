// The thread pattern of one implant as harmonics: for each column x across the body (u divided by
// the local crest radius) the complex amplitude of the grey values at 1, 2 and 3 times the pitch
// frequency along the axis. Tone curves, unsharp masks and local equalisation scale these
// amplitudes by a slowly varying positive factor; they do not move their phases or zeros.
#pragma once
#include <array>
#include <complex>
#include <optional>
#include <vector>

#include "pipeline/projection/thread_columns.h"

namespace crestgate {

inline constexpr int kHarmonics = 3;

struct ThreadSignal {
  double v_begin_px = 0, v_end_px = 0;  ///< part of the axis analysed, from the platform
  double pitch_px = 0;                  ///< along the axis, in the image
  double crest_radius_px = 0;           ///< mean over the analysed part
  Line crest_px;                        ///< crest radius over v
  double depth_px = 0;                  ///< crest to root, from the silhouette (lower bound)
  double white_x = 0;                   ///< white is reached within this |x|; 0 = nowhere
  double clip_x = 0;                    ///< the same where the fit takes it for clipping
  std::array<std::array<std::complex<double>, kThreadColumns>, kHarmonics> amplitude{};
  /// Standard deviation of each amplitude from neighbouring frequencies; 0 = column not usable.
  std::array<std::array<double, kThreadColumns>, kHarmonics> noise{};
  double turns() const { return (v_end_px - v_begin_px) / pitch_px; }
};

/// One signal for each period of the grey values that may be the thread's, none if there is too
/// little body in view: which of them a thread explains is for the fit to say.
/// Amplitude phase convention: exp(-2 pi i k z / pitch) with z = -v (positive coronal).
std::vector<ThreadSignal> thread_signals(const Frame& frame, const ImplantShape& shape,
                                         double v_begin_px, double v_end_px);

/// The signal of a given period, taken as it is or (near) brought to the peak of power next to it:
/// short stretches give a poor period. Empty if the stretch holds fewer than three of it.
enum class Pitch { exact, near };
std::optional<ThreadSignal> thread_signal(const Frame& frame, const ImplantShape& shape,
                                          double v_begin_px, double v_end_px, double pitch_px,
                                          Pitch pitch);

}  // namespace crestgate
