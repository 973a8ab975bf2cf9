// Grey value across a metal cylinder seen from the side: its radius, the image's blur and halo, and
// how grey value depends on metal path here. What later stages need to turn path into grey value.
#pragma once
#include <optional>
#include <vector>

#include "pipeline/image/strip.h"

namespace crestgate {

/// Point spread of the image as this edge shows it: Gaussian, plus an unsharp mask
/// (1 + a) g(s) - a g(hypot(s, h)).
struct Spread {
  double sigma_px = 1.5;
  double halo = 0.0;  ///< a
  double halo_px = 4.0;
};

/// grey = background + contrast (1 - exp(-k path)) / (1 - exp(-k 2R)): exact for a tone linear in
/// exposure and one energy, near enough for log tones (k small: beam hardening and scatter) and
/// gamma. Path in px.
struct PathTone {
  double background = 0.0, contrast = 0.0;
  double k = 0.0;        ///< 1/px
  double full_px = 1.0;  ///< 2R
  double grey(double path_px) const;
};

struct CrossProfile {
  double centre_px = 0.0;  ///< u of the cylinder's axis
  double radius_px = 0.0;
  Spread spread;
  PathTone tone;
  double misfit = 0.0;   ///< rms residual over the contrast
  double clipped = 0.0;  ///< share of the metal's samples at the end of the grey scale
};

/// Median over the strip's rows between v_from_px and v_to_px, fitted where |u| > 0.6 R,
/// outside bore and male part. Empty if
/// there is no metal or it does not look like a cylinder.
std::optional<CrossProfile> fit_cross_profile(const Strip& strip, double v_from_px, double v_to_px,
                                              double radius_hint_px, double clip_level,
                                              double sigma_hint_px);

}  // namespace crestgate
