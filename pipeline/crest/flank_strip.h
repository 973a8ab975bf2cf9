// The picture beside one flank, straightened along the flank line: what the bone's edge is read
// from. Private to this folder.
#pragma once
#include <vector>

#include "pipeline/image/analysis.h"

namespace crestgate {

/// Row-major, columns = distance outward from the flank line, rows = v. All in px, step 1 px.
/// NaN: outside the image, or metal (a crown's overhang).
struct FlankStrip {
  double d0_px = 0.0, v0_px = 0.0;
  int columns = 0, rows = 0;
  std::vector<float> values;
  float at(int column, int row) const {
    return values[static_cast<std::size_t>(row) * columns + column];
  }
  double d_px(int column) const { return d0_px + column; }
  double v_px(int row) const { return v0_px + row; }
};

/// Half-level edges lie inside the metal: near its edge a cylinder's chord grows like a square
/// root, so half of the level some 3-4 sigma inside is reached at a quarter of that way.
constexpr double kHalfLevelInsideSigmas = 0.9;

/// side: -1 = u < 0, +1 = u > 0. The flank line is the envelope over the thread crests; coronal of
/// the platform it goes on at the platform's radius, as the published readings take it.
FlankStrip sample_flank(const Frame& frame, const ImplantShape& shape, int side, double d_min_px,
                        double d_max_px, double v_min_px, double v_max_px, double pitch_px,
                        double blur_sigma_px);

}  // namespace crestgate
