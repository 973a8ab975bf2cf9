// Blur of the image from its sharpest metal edges. Private to this folder.
#pragma once
#include <optional>
#include <vector>

#include "pipeline/quality/regions.h"

namespace crestgate {

struct Blur {
  std::optional<double> sigma_px;
  std::optional<double> motion_direction_deg;  ///< 0 = along x, 90 = along y
  double halo = 0.0;                           ///< median unsharp amount of the edges used
  int edges = 0;
};

/// Fits the strongest straight edges with metal on one side, those of the implants and what is
/// mounted on them if there are implants. Oblique surfaces and overlaps only widen an edge, so the
/// sharpest tenth of the fits is taken. Empty if fewer than 8 edges can be fitted.
Blur measure_blur(const Frame& frame, const Content& content, const ClipLevels& clip,
                  const Contrast& contrast, const std::vector<ImplantShape>& implants);

}  // namespace crestgate
