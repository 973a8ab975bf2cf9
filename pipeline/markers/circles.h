// Shadows of balls: bright discs with sub-pixel centre and radius. Private to this folder.
#pragma once
#include <vector>

#include "pipeline/image/frame.h"

namespace crestgate {

struct Circle {
  Point centre;            ///< px
  double radius_px = 0;    ///< of the half-level edge
  double residual_px = 0;  ///< rms of the edge about the circle
};

/// Discs brighter than what surrounds them on at least 3 of 4 directions, radius within the bounds,
/// clearest first, at most 10. Candidates by gradient voting (Duda and Hart, Commun ACM
/// 1972;15:11, with the gradient's direction) at reduced resolution, then an edge search along
/// radii and a least squares circle at full resolution.
std::vector<Circle> find_discs(const Frame& frame, double least_radius_px, double most_radius_px);

}  // namespace crestgate
