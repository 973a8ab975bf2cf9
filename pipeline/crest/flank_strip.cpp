#include "pipeline/crest/flank_strip.h"

#include <algorithm>
#include <cmath>

namespace crestgate {
namespace {

/// Outer envelope of the silhouette, one value per px of v from 0, outward positive: running
/// maximum over a pitch, then a running mean so that single pixels do not step.
std::vector<double> flank_line(const std::vector<double>& edge_px, int side, double radius_px,
                               double pitch_px) {
  const int n = static_cast<int>(edge_px.size());
  const int half = std::max(2, static_cast<int>(std::lround(0.6 * pitch_px)));
  std::vector<double> top(n), line(n);
  for (int i = 0; i < n; ++i) {
    double best = std::nan("");
    for (int k = std::max(0, i - half); k <= std::min(n - 1, i + half); ++k) {
      const double e = side * edge_px[k];
      // A neighbour or a crown that runs into the flank is not its crest.
      if (std::isfinite(e) && e < 1.3 * radius_px && !(best >= e)) best = e;
    }
    top[i] = std::isfinite(best) ? best : radius_px;
  }
  for (int i = 0; i < n; ++i) {
    double sum = 0.0;
    const int a = std::max(0, i - half), b = std::min(n - 1, i + half);
    for (int k = a; k <= b; ++k) sum += top[k];
    line[i] = sum / (b - a + 1);
  }
  return line;
}

}  // namespace

FlankStrip sample_flank(const Frame& frame, const ImplantShape& shape, int side, double d_min_px,
                        double d_max_px, double v_min_px, double v_max_px, double pitch_px,
                        double blur_sigma_px) {
  const std::vector<double> line = flank_line(side < 0 ? shape.minus_edge_px : shape.plus_edge_px,
                                              side, shape.radius_px, pitch_px);
  FlankStrip s;
  s.d0_px = d_min_px;
  s.v0_px = v_min_px;
  s.columns = std::max(0, static_cast<int>(d_max_px - d_min_px) + 1);
  s.rows = std::max(0, static_cast<int>(v_max_px - v_min_px) + 1);
  s.values.resize(static_cast<std::size_t>(s.columns) * s.rows);
  for (int row = 0; row < s.rows; ++row) {
    const double v = s.v_px(row);
    const double at = std::clamp(v, 0.0, std::max(0.0, static_cast<double>(line.size()) - 1));
    const double flank = (line.empty() ? shape.radius_px : line[static_cast<std::size_t>(at)]) +
                         kHalfLevelInsideSigmas * blur_sigma_px;
    for (int c = 0; c < s.columns; ++c)
      s.values[static_cast<std::size_t>(row) * s.columns + c] =
          interpolate(frame, shape.axis.to_image(side * (flank + s.d_px(c)), v));
  }
  return s;
}

}  // namespace crestgate
