// Harmonics of the metal path length through a threaded cylinder seen at a vertical angle.
//
// Coordinates in crest radii: x across (u), y along the beam away from the source, z along the axis
// positive coronal. A right-handed thread of n starts has its crest at z = n pitch f / 2 pi at
// angle f = atan2(y, x) (design of the flank formulas: point (R cos f, R sin f, p f / 2 pi)). A ray
// that comes from coronal by theta passes z = z' - y tan(theta), so the k-th harmonic of the path
// length along z' is, for each column x,
//   T_k(x) = integral over the chord of s_k(rho) exp(-i k (K y tan(theta) + n f)) dy,
//   K = 2 pi R / pitch,  rho = sqrt(x^2 + y^2),
// with s_k(rho) the k-th Fourier coefficient of the thread's presence at radius rho. Near (y < 0)
// and far (y > 0) halves are complex conjugates up to the profile's own phase; their beating across
// x is what carries theta with its sign. Parallel beam over the thread's depth, straight body.
#pragma once
#include <array>
#include <complex>

#include "pipeline/projection/thread_signal.h"

namespace crestgate {

struct ThreadShape {
  double depth = 0.18;        ///< crest to root, in crest radii
  double root_width = 0.48;   ///< half width of the thread at its root, in pitches
  double crest_width = 0.12;  ///< half width at its crest, in pitches
  double skew = 0.0;          ///< shift of the crest against the root along z, in pitches
};

/// How the body is seen: small corrections of the axis and radius it was sampled with, and the
/// chain behind the metal: intensity exp(-attenuation T), blurred (detectors add up intensity, not
/// path length), then a tone -log(intensity + veil), which is logarithmic for a small veil and
/// linear for a large one; scatter, beam hardening and the toe of a tone curve all act as veil.
struct ThreadView {
  double x_offset = 0.0;      ///< of the axis, in crest radii
  double radius_scale = 1.0;  ///< true crest radius over the one x is normalised with
  double blur_columns = 1.2;  ///< sd, applied across x and along z
  double attenuation = 1.3;   ///< per crest radius
  double veil = 0.2;          ///< of the intensity beside the body
  double clip_x = 0.0;        ///< white is reached at the mean intensity of this |x|; 0 = nowhere
};

using Harmonics = std::array<std::array<std::complex<double>, kThreadColumns>, kHarmonics>;

/// Harmonics 1 to 3 of the grey values. winding = K for the sampled radius.
Harmonics thread_harmonics(double theta_rad, int starts, double winding, const ThreadShape& shape,
                           const ThreadView& view);

}  // namespace crestgate
