#include "pipeline/image/strip.h"

#include <cmath>
#include <limits>

namespace crestgate {
namespace {

void cubic_weights(double t, double w[4]) {
  w[0] = 0.5 * (-t + 2 * t * t - t * t * t);
  w[1] = 0.5 * (2 - 5 * t * t + 3 * t * t * t);
  w[2] = 0.5 * (t + 4 * t * t - 3 * t * t * t);
  w[3] = 0.5 * (-t * t + t * t * t);
}

}  // namespace

float interpolate(const Frame& frame, Point p) {
  const float nan = std::numeric_limits<float>::quiet_NaN();
  if (!(p.x >= 0 && p.y >= 0 && p.x <= frame.columns - 1 && p.y <= frame.rows - 1)) return nan;
  const int ix = std::min(static_cast<int>(p.x), frame.columns - 1);
  const int iy = std::min(static_cast<int>(p.y), frame.rows - 1);
  double wx[4], wy[4];
  cubic_weights(p.x - ix, wx);
  cubic_weights(p.y - iy, wy);
  double sum = 0.0;
  for (int j = 0; j < 4; ++j) {
    const int y = std::min(std::max(iy + j - 1, 0), frame.rows - 1);
    for (int i = 0; i < 4; ++i) {
      const int x = std::min(std::max(ix + i - 1, 0), frame.columns - 1);
      if (!frame.padding.empty() && frame.padding[static_cast<std::size_t>(y) * frame.columns + x])
        return nan;
      sum += wx[i] * wy[j] * frame.at(x, y);
    }
  }
  return static_cast<float>(sum);
}

Strip sample_strip(const Frame& frame, const AxisFrame& axis, double u_min_px, double u_max_px,
                   double v_min_px, double v_max_px, double step_u_px, double step_v_px) {
  Strip strip;
  strip.axis = axis;
  strip.u0_px = u_min_px;
  strip.v0_px = v_min_px;
  strip.step_u_px = step_u_px;
  strip.step_v_px = step_v_px;
  strip.columns = std::max(0, static_cast<int>(std::floor((u_max_px - u_min_px) / step_u_px)) + 1);
  strip.rows = std::max(0, static_cast<int>(std::floor((v_max_px - v_min_px) / step_v_px)) + 1);
  strip.values.resize(static_cast<std::size_t>(strip.columns) * strip.rows);
  for (int iv = 0; iv < strip.rows; ++iv)
    for (int iu = 0; iu < strip.columns; ++iu)
      strip.values[static_cast<std::size_t>(iv) * strip.columns + iu] =
          interpolate(frame, axis.to_image(strip.u_px(iu), strip.v_px(iv)));
  return strip;
}

}  // namespace crestgate
