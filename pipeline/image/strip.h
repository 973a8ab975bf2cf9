// Straightened sampling of a frame along an axis: the coordinate frame every measure shares.
//
// v runs along the axis from `origin`, positive apical (away from the crown); u is perpendicular,
// positive to the image right when the crown points up (and turned with it otherwise), so that a
// right-handed thread has its right flank at u > 0 whatever the in-plane turn.
#pragma once
#include <cmath>
#include <vector>

#include "pipeline/image/frame.h"

namespace crestgate {

struct AxisFrame {
  Point origin;                                          ///< v = 0, px
  Point apical{0, 1};                                    ///< unit vector along +v
  Point right() const { return {apical.y, -apical.x}; }  ///< unit vector along +u
  Point to_image(double u, double v) const {
    return {origin.x + u * right().x + v * apical.x, origin.y + u * right().y + v * apical.y};
  }
  /// True if u < 0 is image left; for an axis lying horizontally left is the side with smaller y.
  bool minus_is_left() const {
    const Point r = right();
    return std::abs(r.x) >= std::abs(r.y) ? r.x > 0 : r.y > 0;
  }
  /// Inverse of to_image; .x = u, .y = v.
  Point from_image(Point p) const {
    const double dx = p.x - origin.x, dy = p.y - origin.y;
    return {dx * right().x + dy * right().y, dx * apical.x + dy * apical.y};
  }
};

/// Samples on a regular (u, v) grid, row-major with u fastest; outside the frame: NaN.
struct Strip {
  AxisFrame axis;
  double u0_px = 0, v0_px = 0;  ///< coordinates of sample (0, 0)
  double step_u_px = 1, step_v_px = 1;
  int columns = 0, rows = 0;  ///< along u, along v
  std::vector<float> values;
  float at(int iu, int iv) const { return values[static_cast<std::size_t>(iv) * columns + iu]; }
  double u_px(int iu) const { return u0_px + iu * step_u_px; }
  double v_px(int iv) const { return v0_px + iv * step_v_px; }
};

/// Cubic (Catmull-Rom) interpolation at an image point; NaN outside the frame or on padding.
float interpolate(const Frame& frame, Point p);

Strip sample_strip(const Frame& frame, const AxisFrame& axis, double u_min_px, double u_max_px,
                   double v_min_px, double v_max_px, double step_u_px = 1.0,
                   double step_v_px = 1.0);

}  // namespace crestgate
