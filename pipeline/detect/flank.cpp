#include "pipeline/detect/flank.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "pipeline/image/statistics.h"

namespace crestgate {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kReach = 2.5;  // half width of the traced strip, in radii

/// As sample_strip, but bilinear: the smoothing below makes a finer kernel pointless. NaN outside
/// the field.
Strip quick_strip(const Frame& f, const Field& field, const AxisFrame& axis, int centre, double v0,
                  double v1, double step) {
  Strip s;
  s.axis = axis;
  s.u0_px = -centre * step;
  s.v0_px = v0;
  s.step_u_px = s.step_v_px = step;
  s.columns = 2 * centre + 1;
  s.rows = std::max(0, static_cast<int>((v1 - v0) / step) + 1);
  s.values.assign(static_cast<std::size_t>(s.columns) * s.rows,
                  std::numeric_limits<float>::quiet_NaN());
  const Point r = axis.right();
  for (int iv = 0; iv < s.rows; ++iv) {
    const Point p = axis.to_image(s.u0_px, s.v_px(iv));
    for (int iu = 0; iu < s.columns; ++iu) {
      const double x = p.x + iu * step * r.x, y = p.y + iu * step * r.y;
      if (!(x >= field.x0 && y >= field.y0 && x < field.x1 && y < field.y1)) continue;
      const int ix = static_cast<int>(x), iy = static_cast<int>(y);
      const float fx = static_cast<float>(x - ix), fy = static_cast<float>(y - iy);
      const float top = (1 - fx) * f.at(ix, iy) + fx * f.at(ix + 1, iy);
      const float low = (1 - fx) * f.at(ix, iy + 1) + fx * f.at(ix + 1, iy + 1);
      s.values[static_cast<std::size_t>(iv) * s.columns + iu] = (1 - fy) * top + fy * low;
    }
  }
  return s;
}

/// Strip smoothed by 1-2-1 along v and u; NaN stays NaN.
Strip smoothed(const Strip& in) {
  Strip out = in;
  for (int pass = 0; pass < 2; ++pass) {
    const Strip source = out;
    const int du = pass == 0 ? 1 : 0, dv = pass == 0 ? 0 : 1;
    for (int iv = dv; iv < in.rows - dv; ++iv)
      for (int iu = du; iu < in.columns - du; ++iu) {
        const float sum = 0.25F * source.at(iu - du, iv - dv) + 0.5F * source.at(iu, iv) +
                          0.25F * source.at(iu + du, iv + dv);
        if (sum == sum) out.values[static_cast<std::size_t>(iv) * in.columns + iu] = sum;
      }
  }
  return out;
}

/// Outward fall of the grey value at distance k samples from the axis, on one side.
double fall(const Strip& s, int centre, int sign, int k, int iv) {
  const int a = centre + sign * (k - 1), b = centre + sign * (k + 1);
  const int aa = centre + sign * (k - 2), bb = centre + sign * (k + 2);
  if (std::min({a, b, aa, bb}) < 0 || std::max({a, b, aa, bb}) >= s.columns) return kNan;
  return 0.5 * (s.at(a, iv) + s.at(aa, iv) - s.at(b, iv) - s.at(bb, iv));
}

/// Best path of one flank: distance from the axis in samples per row.
std::vector<int> best_path(const Strip& s, int centre, int sign, double radius, double typical,
                           const Interval& known) {
  const int least = std::max(3, static_cast<int>(0.15 * radius));
  const int most = static_cast<int>((kReach - 0.1) * radius);
  const int n = most - least + 1;
  constexpr int kJump = 2;
  std::vector<double> cost(n, 0.0), next(n);
  std::vector<signed char> from(static_cast<std::size_t>(n) * s.rows, 0);
  for (int iv = 0; iv < s.rows; ++iv) {
    const bool held = s.v_px(iv) >= known.from && s.v_px(iv) <= known.to;
    const double pull = held ? 0.4 : 0.05;
    for (int j = 0; j < n; ++j) {
      const double d = fall(s, centre, sign, least + j, iv);
      // Saturating reward: beyond twice the typical step an edge is just an edge.
      double reward = d == d ? std::max(-0.5, d / (std::fabs(d) + typical)) : 0.0;
      reward -= pull * std::fabs(std::log((least + j) / radius));
      double best = -1e30;
      int step = 0;
      for (int k = -kJump; k <= kJump; ++k) {
        if (j + k < 0 || j + k >= n) continue;
        const double c = cost[j + k] - 0.03 * k * k;
        if (c > best) best = c, step = k;
      }
      next[j] = best + reward;
      from[static_cast<std::size_t>(iv) * n + j] = static_cast<signed char>(step);
    }
    cost.swap(next);
  }
  std::vector<int> path(s.rows);
  int j = static_cast<int>(std::max_element(cost.begin(), cost.end()) - cost.begin());
  for (int iv = s.rows - 1; iv >= 0; --iv) {
    path[iv] = least + j;
    j += from[static_cast<std::size_t>(iv) * n + j];
  }
  return path;
}

struct HalfLevel {
  double at = kNan, step = 0.0, outside = kNan;
};

/// Crossing of the level midway between just inside and just outside the path's edge.
HalfLevel half_level(const Strip& s, int centre, int sign, int k, int iv, int margin) {
  auto mean = [&](int from, int to) {
    double sum = 0.0;
    int n = 0;
    for (int i = from; i <= to; ++i) {
      const int iu = centre + sign * i;
      if (iu < 0 || iu >= s.columns) continue;
      const float g = s.at(iu, iv);
      if (g == g) sum += g, ++n;
    }
    return n > 0 ? sum / n : kNan;
  };
  HalfLevel h;
  const double in = mean(std::max(0, k - 2 * margin), k - margin);
  h.outside = mean(k + margin, k + 2 * margin);
  h.step = in - h.outside;
  if (!(h.step > 0)) return h;
  const double level = 0.5 * (in + h.outside);
  double nearest = margin + 1.0;
  for (int i = std::max(0, k - margin); i < k + margin; ++i) {
    const int ia = centre + sign * i, ib = centre + sign * (i + 1);
    if (std::min(ia, ib) < 0 || std::max(ia, ib) >= s.columns) continue;
    const double a = s.at(ia, iv), b = s.at(ib, iv);
    if (!(a >= level && b < level)) continue;
    const double at = i + (a - level) / (a - b);
    if (std::fabs(at - k) < nearest) nearest = std::fabs(at - k), h.at = at;
  }
  return h;
}

double mean_between(const Strip& s, double u0, double u1, int iv) {
  double sum = 0.0;
  int n = 0;
  const int from = static_cast<int>(std::ceil((u0 - s.u0_px) / s.step_u_px));
  const int to = static_cast<int>(std::floor((u1 - s.u0_px) / s.step_u_px));
  for (int iu = std::max(0, from); iu <= std::min(s.columns - 1, to); ++iu) {
    const float g = s.at(iu, iv);
    if (g == g) sum += g, ++n;
  }
  return n > 0 ? sum / n : kNan;
}

/// Typical fall across the flanks near the middle, to scale the path's reward.
double typical_fall(const Strip& s, int centre, double radius) {
  std::vector<double> falls;
  for (int iv = s.rows / 3; iv < 2 * s.rows / 3; ++iv)
    for (int sign = -1; sign <= 1; sign += 2) {
      double best = 0.0;
      for (int k = static_cast<int>(0.75 * radius); k < 1.25 * radius; ++k) {
        const double d = fall(s, centre, sign, k, iv);
        if (d > best) best = d;
      }
      falls.push_back(best);
    }
  return falls.empty() ? 1e-6 : std::max(1e-6, 0.5 * median_of(falls));
}

void mirror_lone_side(FlankTrace& t, int side) {
  t.lone_side = side;
  if (side > 0) {
    t.minus_step = t.plus_step;
    t.minus_outside = t.plus_outside;
    t.minus_rim = t.plus_rim;
  } else {
    t.plus_step = t.minus_step;
    t.plus_outside = t.minus_outside;
    t.plus_rim = t.minus_rim;
  }
  for (int i = 0; i < t.size(); ++i)
    (side > 0 ? t.minus_px[i] : t.plus_px[i]) = -(side > 0 ? t.plus_px[i] : t.minus_px[i]);
}

}  // namespace

int FlankTrace::index(double v_px) const {
  return std::clamp(static_cast<int>(std::lround((v_px - v0_px) / step_px)), 0,
                    std::max(0, size() - 1));
}

FlankTrace trace_flanks(const Frame& frame, const Field& field, const AxisFrame& axis,
                        double radius_px, double v_min_px, double v_max_px, double step_px,
                        Interval known, int lone_side) {
  const int centre = static_cast<int>(std::ceil(kReach * radius_px / step_px));
  const Strip s = smoothed(quick_strip(frame, field, axis, centre, v_min_px, v_max_px, step_px));
  FlankTrace t;
  t.axis = axis;
  t.radius_px = radius_px;
  t.v0_px = v_min_px;
  t.step_px = step_px;
  const double radius = radius_px / step_px;
  const double typical = typical_fall(s, centre, radius);
  const std::vector<int> minus = best_path(s, centre, -1, radius, typical, known);
  const std::vector<int> plus = best_path(s, centre, 1, radius, typical, known);
  const int margin = std::max(3, static_cast<int>(std::lround(0.1 * radius)));
  for (int iv = 0; iv < s.rows; ++iv) {
    const HalfLevel m = half_level(s, centre, -1, minus[iv], iv, margin);
    const HalfLevel p = half_level(s, centre, 1, plus[iv], iv, margin);
    t.minus_px.push_back(-m.at * step_px);
    t.plus_px.push_back(p.at * step_px);
    t.minus_step.push_back(m.step);
    t.plus_step.push_back(p.step);
    t.minus_outside.push_back(m.outside);
    t.plus_outside.push_back(p.outside);
    const double r = radius_px;
    const double core = mean_between(s, -0.3 * r, 0.3 * r, iv);
    t.minus_rim.push_back(mean_between(s, -0.8 * r, -0.45 * r, iv));
    t.plus_rim.push_back(mean_between(s, 0.45 * r, 0.8 * r, iv));
    t.inside.push_back(std::fmax(core, std::fmax(t.minus_rim.back(), t.plus_rim.back())));
    t.core.push_back(core);
  }
  if (lone_side != 0) mirror_lone_side(t, lone_side);
  return t;
}

void trace_silhouette(const Frame& frame, const Field& field, int lone_side, ImplantShape* shape) {
  FlankTrace fine = trace_flanks(frame, field, shape->axis, shape->radius_px, 0.0, shape->length_px,
                                 1.0, {0.0, shape->length_px}, lone_side);
  shape->minus_edge_px = std::move(fine.minus_px);
  shape->plus_edge_px = std::move(fine.plus_px);
  if (lone_side > 0) std::fill(shape->minus_edge_px.begin(), shape->minus_edge_px.end(), kNan);
  if (lone_side < 0) std::fill(shape->plus_edge_px.begin(), shape->plus_edge_px.end(), kNan);
}

AxisFrame fit_axis(const FlankTrace& trace, int first, int last) {
  double offset = 0.0, slope = 0.0, scale = 1e9;
  const double vc = 0.5 * (trace.v_px(first) + trace.v_px(last));
  for (int pass = 0; pass < 8; ++pass) {
    double sw = 0, sv = 0, su = 0, svv = 0, svu = 0;
    std::vector<double> residuals;
    for (int i = first; i <= last; ++i) {
      const double u = trace.middle(i), v = trace.v_px(i) - vc;
      if (!(u == u)) continue;
      const double e = u - offset - slope * v, z = e / (4.0 * scale);
      residuals.push_back(std::fabs(e));
      const double w = std::fabs(z) < 1 ? (1 - z * z) * (1 - z * z) : 0.0;
      sw += w, sv += w * v, su += w * u, svv += w * v * v, svu += w * v * u;
    }
    const double det = sw * svv - sv * sv;
    if (!(sw > 3) || !(det > 1e-9)) break;
    slope = (sw * svu - sv * su) / det;
    offset = (su - slope * sv) / sw;
    scale = std::max(0.3, 1.48 * median_of(residuals));
  }
  const Point r = trace.axis.right(), a = trace.axis.apical;
  const double cosine = 1.0 / std::sqrt(1.0 + slope * slope);
  AxisFrame out;
  out.apical = {cosine * (a.x + slope * r.x), cosine * (a.y + slope * r.y)};
  out.origin = trace.axis.to_image(offset - slope * vc, 0.0);
  return out;
}

}  // namespace crestgate
