#include "pipeline/detect/segments.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace crestgate {
namespace {

/// Prefix sums of x^k and y x^k let any stretch be fitted in constant time.
struct Sums {
  std::array<double, 5> x{};
  std::array<double, 3> xy{};
  double yy = 0.0;
  Sums minus(const Sums& o) const {
    Sums s = *this;
    for (int k = 0; k < 5; ++k) s.x[k] -= o.x[k];
    for (int k = 0; k < 3; ++k) s.xy[k] -= o.xy[k];
    s.yy -= o.yy;
    return s;
  }
};

struct Quadratic {
  double c0 = 0, c1 = 0, c2 = 0, cost = 0;
  double at(double x) const { return c0 + x * (c1 + x * c2); }
  double slope(double x) const { return c1 + 2 * c2 * x; }
};

std::vector<Sums> prefix(const std::vector<double>& y, double scale) {
  std::vector<Sums> out(y.size() + 1);
  for (std::size_t i = 0; i < y.size(); ++i) {
    Sums s = out[i];
    if (y[i] == y[i]) {
      const double x = static_cast<double>(i) * scale;
      double power = 1.0;
      for (int k = 0; k < 5; ++k, power *= x) {
        s.x[k] += power;
        if (k < 3) s.xy[k] += power * y[i];
      }
      s.yy += y[i] * y[i];
    }
    out[i + 1] = s;
  }
  return out;
}

/// Least squares with a whisper of ridge on the curvature, so that few points stay solvable.
Quadratic fit(const Sums& s) {
  Quadratic q;
  if (s.x[0] < 2) return q;
  const double n = s.x[0], mx = s.x[1] / n;
  const double my = s.xy[0] / n;
  const double xx = s.x[2] / n - mx * mx;
  const double x3 = s.x[3] / n - 3 * mx * s.x[2] / n + 2 * mx * mx * mx;
  const double x4 =
      s.x[4] / n - 4 * mx * s.x[3] / n + 6 * mx * mx * s.x[2] / n - 3 * mx * mx * mx * mx;
  const double xy = s.xy[1] / n - mx * my;
  const double xxy = s.xy[2] / n - 2 * mx * s.xy[1] / n + mx * mx * my;  // of (x-mx)^2 y
  // Basis 1, d, d^2 with d = x - mx.
  const double a11 = xx + 1e-12, a12 = x3, a22 = x4 - xx * xx + 1e-9;
  const double b1 = xy, b2 = xxy - xx * my;
  const double det = a11 * a22 - a12 * a12;
  double p1 = b1 / a11, p2 = 0.0;
  if (n >= 4 && det > 1e-9 * a11 * a22)
    p1 = (b1 * a22 - b2 * a12) / det, p2 = (b2 * a11 - b1 * a12) / det;
  const double p0 = my - p2 * xx;
  q.c2 = p2;
  q.c1 = p1 - 2 * p2 * mx;
  q.c0 = p0 - p1 * mx + p2 * mx * mx;
  const double var = s.yy / n - my * my;
  q.cost = std::max(0.0, n * (var - p1 * b1 - p2 * b2));
  return q;
}

std::vector<double> median5(const std::vector<double>& y) {
  std::vector<double> out(y.size(), std::numeric_limits<double>::quiet_NaN());
  const int n = static_cast<int>(y.size());
  for (int i = 0; i < n; ++i) {
    std::vector<double> w;
    for (int j = std::max(0, i - 2); j <= std::min(n - 1, i + 2); ++j)
      if (y[j] == y[j]) w.push_back(y[j]);
    if (w.size() < 2) continue;
    std::sort(w.begin(), w.end());
    const std::size_t k = w.size();
    out[i] = k % 2 ? w[k / 2] : 0.5 * (w[k / 2 - 1] + w[k / 2]);
  }
  return out;
}

}  // namespace

std::vector<Segment> split_silhouette(const std::vector<double>& minus_out,
                                      const std::vector<double>& plus_out, double sigma_px,
                                      int shortest) {
  const int n = static_cast<int>(minus_out.size());
  std::vector<Segment> segments;
  if (n < 2 * shortest) return segments;
  const double scale = 1.0 / n;
  const std::vector<Sums> sums[2] = {prefix(median5(minus_out), scale),
                                     prefix(median5(plus_out), scale)};
  auto quadratic = [&](int side, int a, int b) {
    return fit(sums[side][b + 1].minus(sums[side][a]));
  };
  const double penalty = 7.0 * std::log(static_cast<double>(n)) * sigma_px * sigma_px;
  std::vector<double> best(n + 1, 1e300);
  std::vector<int> from(n + 1, 0);
  best[0] = 0.0;
  for (int b = shortest; b <= n; ++b)
    for (int a = 0; a + shortest <= b; ++a) {
      if (best[a] > 1e299) continue;
      const double c =
          best[a] + penalty + quadratic(0, a, b - 1).cost + quadratic(1, a, b - 1).cost;
      if (c < best[b]) best[b] = c, from[b] = a;
    }
  for (int b = n; b > 0; b = from[b]) {
    Segment s;
    s.first = from[b];
    s.last = b - 1;
    for (int side = 0; side < 2; ++side) {
      const Quadratic q = quadratic(side, s.first, s.last);
      const double x0 = s.first * scale, x1 = s.last * scale;
      s.at_first[side] = q.at(x0), s.at_last[side] = q.at(x1);
      s.slope_first[side] = q.slope(x0) * scale, s.slope_last[side] = q.slope(x1) * scale;
    }
    segments.insert(segments.begin(), s);
  }
  return segments;
}

}  // namespace crestgate
