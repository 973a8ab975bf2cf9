#include "pipeline/markers/jig_pose.h"

#include <cmath>

#include "config/units.h"

namespace crestgate {
namespace {

Place3 minus(const Place3& a, const Place3& b) { return {a.x - b.x, a.y - b.y, a.z - b.z}; }
Place3 cross(const Place3& a, const Place3& b) {
  return {a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}
double dot(const Place3& a, const Place3& b) { return a.x * b.x + a.y * b.y + a.z * b.z; }
double norm(const Place3& a) { return std::sqrt(dot(a, a)); }

/// Row m with m . e_i = value_i for three edges e_i.
Place3 solve_row(const std::array<Place3, 3>& e, const std::array<double, 3>& value, double det) {
  const Place3 a = cross(e[1], e[2]), b = cross(e[2], e[0]), c = cross(e[0], e[1]);
  return {(value[0] * a.x + value[1] * b.x + value[2] * c.x) / det,
          (value[0] * a.y + value[1] * b.y + value[2] * c.y) / det,
          (value[0] * a.z + value[1] * b.z + value[2] * c.z) / det};
}

}  // namespace

JigLayout jig_layout(const Jig& jig) {
  const double s = jig.spacing_mm;
  return {Place3{0, 0, 0}, {2 * s, 0, 0}, {0, 0, s}, {s, 1.5 * s, 0.5 * s}};
}

std::optional<JigPose> jig_pose(const std::array<Point, 4>& balls_px, const JigLayout& layout,
                                double source_mm) {
  std::array<Place3, 3> edge;
  for (std::size_t i = 0; i < 3; ++i) edge[i] = minus(layout[i + 1], layout[0]);
  const double det = dot(edge[0], cross(edge[1], edge[2]));
  if (std::abs(det) < 1e-9) return {};
  Place3 row_x, row_y, ray;
  std::array<double, 3> deeper{};  // of B, C, D than A along the ray, in source distances
  for (int pass = 0; pass < 8; ++pass) {
    std::array<double, 3> x{}, y{};
    for (std::size_t i = 0; i < 3; ++i) {
      x[i] = (balls_px[i + 1].x - balls_px[0].x) * (1 + deeper[i]);
      y[i] = (balls_px[i + 1].y - balls_px[0].y) * (1 + deeper[i]);
    }
    row_x = solve_row(edge, x, det);
    row_y = solve_row(edge, y, det);
    ray = cross(row_x, row_y);
    const double size = norm(ray);
    if (!(size > 1e-9)) return {};
    const double sign = ray.y < 0 ? -1 : 1;  // away from the source
    ray = {sign * ray.x / size, sign * ray.y / size, sign * ray.z / size};
    for (std::size_t i = 0; i < 3; ++i) deeper[i] = dot(edge[i], ray) / source_mm;
  }
  JigPose pose;
  // A ray from a coronal source travels apically.
  pose.theta_deg = degrees(std::asin(-ray.z));
  const double along = std::hypot(row_x.z, row_y.z);
  if (!(along > 1e-9)) return {};
  pose.coronal = {row_x.z / along, row_y.z / along};
  pose.px_per_mm_along = along;
  const Point c = pose.coronal;
  pose.px_per_mm_across = norm({-c.y * row_x.x + c.x * row_y.x, -c.y * row_x.y + c.x * row_y.y,
                                -c.y * row_x.z + c.x * row_y.z});
  const double xx = dot(row_x, row_x), yy = dot(row_y, row_y), xy = dot(row_x, row_y);
  pose.distortion = std::hypot(xx - yy, 2 * xy) / (xx + yy);
  // Seen from the source, x turns to z against the clock; y grows downwards in the image.
  pose.as_made = row_x.x * row_y.z - row_x.z * row_y.x < 0;
  pose.row_x = row_x, pose.row_y = row_y, pose.ray = ray;
  pose.foot_px = balls_px[0];
  pose.source_mm = source_mm;
  return pose;
}

Point JigPose::to_image(const Place3& jig_mm) const {
  const double nearer = 1 / (1 + dot(ray, jig_mm) / source_mm);
  return {foot_px.x + nearer * dot(row_x, jig_mm), foot_px.y + nearer * dot(row_y, jig_mm)};
}

}  // namespace crestgate
