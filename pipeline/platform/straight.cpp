#include "pipeline/platform/straight.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "pipeline/image/statistics.h"

namespace crestgate {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kCoronalMm = 6.0, kApicalMm = 7.0;
constexpr double kReach = 1.7;          // half width of the strip, radii
constexpr double kInnermost = 0.2;      // the metal's edge is looked for from here outward
constexpr double kEdgeLevel = 0.45;     // of metal over surroundings
constexpr double kLevelWindowMm = 1.0;  // surroundings: median over so much to either side

/// Two samples per row, averaged: half the noise of one, and no detail lost (rows of 0.04 mm).
std::vector<float> sample(const Frame& frame, const ImplantShape& shape, Straight* s) {
  const double mm = 1.0 / s->mm_per_px, r = shape.radius_px;
  const Strip strip = sample_strip(frame, shape.axis, -kReach * r, kReach * r, -kCoronalMm * mm,
                                   kApicalMm * mm, s->dx * r, 0.5 * kRowMm * mm);
  s->columns = strip.columns;
  s->rows = strip.rows / 2;
  s->x0 = strip.u0_px / r;
  s->v0_mm = strip.v0_px * s->mm_per_px + 0.25 * kRowMm;
  std::vector<float> grey(static_cast<std::size_t>(s->rows) * s->columns);
  for (int iv = 0; iv < s->rows; ++iv)
    for (int iu = 0; iu < s->columns; ++iu)
      grey[static_cast<std::size_t>(iv) * s->columns + iu] =
          0.5F * (strip.at(iu, 2 * iv) + strip.at(iu, 2 * iv + 1));
  return grey;
}

Profile column_medians(const Straight& s, double x_from, double x_to) {
  Profile p(s.rows, kNan);
  std::vector<double> row;
  for (int iv = 0; iv < s.rows; ++iv) {
    row.clear();
    for (int iu = 0; iu < s.columns; ++iu) {
      const double x = s.x0 + iu * s.dx;
      if (x >= x_from && x <= x_to && std::isfinite(s.at(iu, iv))) row.push_back(s.at(iu, iv));
    }
    p[iv] = median_of(row);
  }
  return p;
}

Profile running_median(const Profile& p, int half) {
  Profile out(p.size());
  const int n = static_cast<int>(p.size());
  for (int i = 0; i < n; ++i) {
    const auto from = p.begin() + std::max(0, i - half), to = p.begin() + std::min(n, i + half + 1);
    out[i] = median_of({from, to});
  }
  return out;
}

/// First crossing of the row's own level from inside outwards.
Profile edges(const Straight& s, int side, const Profile& outside, double metal) {
  Profile e(s.rows, kNan);
  const int first = static_cast<int>(std::lround((side * kInnermost - s.x0) / s.dx));
  for (int iv = 0; iv < s.rows; ++iv) {
    const double level = outside[iv] + kEdgeLevel * (metal - outside[iv]);
    double before = kNan;
    for (int iu = first; iu >= 0 && iu < s.columns; iu += side) {
      const double g = s.at(iu, iv);
      if (!std::isfinite(g)) {
        e[iv] = kNan;
        break;
      }
      const double x = side * (s.x0 + iu * s.dx);
      e[iv] = x;
      if (g < level) {
        if (std::isfinite(before)) e[iv] += s.dx * ((before - level) / (before - g) - 1.0);
        break;
      }
      before = g;
    }
  }
  return e;
}

}  // namespace

Profile Straight::zone(double x_centre, double half) const {
  Profile p(rows, kNan);
  const int from = std::max(0, static_cast<int>(std::ceil((x_centre - half - x0) / dx - 1e-6)));
  const int to =
      std::min(columns - 1, static_cast<int>(std::floor((x_centre + half - x0) / dx + 1e-6)));
  for (int iv = 0; iv < rows; ++iv) {
    double sum = 0.0;
    int n = 0;
    for (int iu = from; iu <= to; ++iu)
      if (std::isfinite(at(iu, iv))) sum += at(iu, iv), ++n;
    if (n > 0) p[iv] = sum / n;
  }
  return p;
}

Profile window_mean(const Profile& p, double from_mm, double to_mm) {
  const int n = static_cast<int>(p.size());
  const int a = static_cast<int>(std::lround(from_mm / kRowMm));
  const int b = static_cast<int>(std::lround(to_mm / kRowMm));
  std::vector<double> sum(n + 1, 0.0);
  std::vector<int> count(n + 1, 0);
  for (int i = 0; i < n; ++i) {
    const bool good = std::isfinite(p[i]);
    sum[i + 1] = sum[i] + (good ? p[i] : 0.0);
    count[i + 1] = count[i] + (good ? 1 : 0);
  }
  Profile out(n, kNan);
  for (int i = 0; i < n; ++i) {
    const int from = std::clamp(i + a, 0, n), to = std::clamp(i + b + 1, from, n);
    const int k = count[to] - count[from];
    if (k > 0 && k >= 0.6 * (b - a + 1)) out[i] = (sum[to] - sum[from]) / k;
  }
  return out;
}

Profile shifted(const Profile& p, double by_mm) {
  const int n = static_cast<int>(p.size());
  Profile out(n);
  for (int i = 0; i < n; ++i) {
    const double at = i + by_mm / kRowMm;
    const int k = static_cast<int>(std::floor(at));
    const double f = at - k;
    const double low = p[std::clamp(k, 0, n - 1)], high = p[std::clamp(k + 1, 0, n - 1)];
    out[i] = f > 0 ? low * (1 - f) + high * f : low;
  }
  return out;
}

Straight straighten(const Frame& frame, const ImplantShape& shape, double mm_per_px) {
  Straight s;
  s.mm_per_px = mm_per_px;
  s.radius_mm = shape.radius_px * mm_per_px;
  s.length_mm = shape.length_px * mm_per_px;
  s.in_view[0] = shape.minus_flank_in_view;
  s.in_view[1] = shape.plus_flank_in_view;
  s.apex_in_view = shape.apex_in_view;
  s.grey = sample(frame, shape, &s);

  std::vector<double> metal_greys;
  const double body_to = std::min(0.7 * s.length_mm, kApicalMm - 0.1);
  for (int iv = 0; iv < s.rows; ++iv)
    if (s.v_mm(iv) > 0.25 * s.length_mm && s.v_mm(iv) < body_to)
      for (int iu = 0; iu < s.columns; ++iu)
        if (std::abs(s.x0 + iu * s.dx) <= 0.75) metal_greys.push_back(s.at(iu, iv));
  const double metal = median_of(std::move(metal_greys));
  std::vector<double> contrasts;
  for (const int side : {-1, 1}) {
    const int k = side < 0 ? 0 : 1;
    Profile out = column_medians(s, side < 0 ? -1.5 : 1.2, side < 0 ? -1.2 : 1.5);
    const double usual = median_of(out);
    for (double& g : out)
      if (!std::isfinite(g)) g = usual;
    out = running_median(out, static_cast<int>(kLevelWindowMm / kRowMm));
    if (s.in_view[k]) s.edge[k] = edges(s, side, out, metal);
    for (double& g : out) g = metal - g;
    contrasts.push_back(median_of(std::move(out)));
  }
  const double contrast = median_of({contrasts[0], contrasts[1]});
  if (!(contrast > 0) || (!s.in_view[0] && !s.in_view[1])) {
    s.rows = 0;
    return s;
  }
  if (!s.in_view[0]) s.edge[0] = s.edge[1];
  if (!s.in_view[1]) s.edge[1] = s.edge[0];
  for (float& g : s.grey) g = static_cast<float>((g - metal) / contrast + 1.0);
  return s;
}

}  // namespace crestgate
