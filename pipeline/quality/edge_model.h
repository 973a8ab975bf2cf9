// A metal edge as a profile across it: a blurred step or cylinder flank with a processing halo.
// Private to this folder.
#pragma once
#include <vector>

namespace crestgate {

/// Grey value at x_px along the edge's normal, x > 0 inside the metal.
struct Profile {
  std::vector<double> x_px, value;
};

struct EdgeFit {
  double sigma_px = 0;
  double halo = 0;  ///< unsharp amount, 0 = none
  double height = 0;
  double residual = 1;  ///< rms / height
};

/// Least squares over blur, edge position, flank shape and halo; B, C and the halo are linear.
/// Flank shape: the chord of a cylinder grows as the square root of the depth s behind its edge, so
/// the grey value as 1 - exp(-m sqrt(s)), m -> infinity being a step; blurred by a Gaussian.
EdgeFit fit_edge(const Profile& profile);

}  // namespace crestgate
