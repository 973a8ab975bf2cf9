#include "pipeline/detect/segments.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace crestgate {
namespace {

/// Prefix sums let any stretch be fitted in constant time.
struct Sums {
  double n = 0, x = 0, xx = 0, y = 0, xy = 0, yy = 0;
  Sums minus(const Sums& o) const {
    return {n - o.n, x - o.x, xx - o.xx, y - o.y, xy - o.xy, yy - o.yy};
  }
};

struct Line {
  double offset = 0, slope = 0, cost = 0;
  double at(double x) const { return offset + x * slope; }
};

std::vector<Sums> prefix(const std::vector<double>& y) {
  std::vector<Sums> out(y.size() + 1);
  for (std::size_t i = 0; i < y.size(); ++i) {
    Sums s = out[i];
    if (y[i] == y[i]) {
      const double x = static_cast<double>(i);
      s.n += 1, s.x += x, s.xx += x * x, s.y += y[i], s.xy += x * y[i], s.yy += y[i] * y[i];
    }
    out[i + 1] = s;
  }
  return out;
}

Line fit(const Sums& s) {
  Line l;
  if (s.n < 1) return l;
  const double mx = s.x / s.n, my = s.y / s.n;
  const double xx = s.xx - s.n * mx * mx, xy = s.xy - s.n * mx * my, yy = s.yy - s.n * my * my;
  l.slope = xx > 1e-9 ? xy / xx : 0.0;
  l.offset = my - l.slope * mx;
  l.cost = std::max(0.0, yy - l.slope * xy);
  return l;
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
  const std::vector<Sums> sums[2] = {prefix(median5(minus_out)), prefix(median5(plus_out))};
  auto line = [&](int side, int a, int b) { return fit(sums[side][b + 1].minus(sums[side][a])); };
  const double penalty = 5.0 * std::log(static_cast<double>(n)) * sigma_px * sigma_px;
  std::vector<double> best(n + 1, 1e300);
  std::vector<int> from(n + 1, 0);
  best[0] = 0.0;
  for (int b = shortest; b <= n; ++b)
    for (int a = 0; a + shortest <= b; ++a) {
      if (best[a] > 1e299) continue;
      const double c = best[a] + penalty + line(0, a, b - 1).cost + line(1, a, b - 1).cost;
      if (c < best[b]) best[b] = c, from[b] = a;
    }
  for (int b = n; b > 0; b = from[b]) {
    Segment s;
    s.first = from[b];
    s.last = b - 1;
    for (int side = 0; side < 2; ++side) {
      const Line l = line(side, s.first, s.last);
      s.at_first[side] = l.at(s.first), s.at_last[side] = l.at(s.last);
      s.slope[side] = l.slope;
    }
    segments.insert(segments.begin(), s);
  }
  return segments;
}

}  // namespace crestgate
