#include "pipeline/detect/ribbon.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace crestgate {
namespace {

constexpr double kPi = 3.14159265358979323846;
constexpr int kDirections = 30;
constexpr int kHalfBox = 4;  // smoothing along the ribbon, survey px: about one thread pitch
constexpr int kRowStep = 2;

/// The survey turned so that the tried direction runs along rows of increasing v.
struct Turned {
  AxisFrame axis;  // survey px
  int columns = 0, rows = 0;
  std::vector<float> value, step;
  std::size_t index(int u, int v) const { return static_cast<std::size_t>(v) * columns + u; }
};

struct Edge {
  int u;
  float step;
};

struct Pair {
  float left, right, step;
};

struct Chain {
  std::vector<int> v;
  std::vector<Pair> pairs;
};

float bilinear(const Survey& s, double x, double y) {
  if (!(x >= 0 && y >= 0 && x <= s.columns - 1.001 && y <= s.rows - 1.001))
    return std::numeric_limits<float>::quiet_NaN();
  const int ix = static_cast<int>(x), iy = static_cast<int>(y);
  const float fx = static_cast<float>(x - ix), fy = static_cast<float>(y - iy);
  const float* p = &s.values[static_cast<std::size_t>(iy) * s.columns + ix];
  const float* q = p + s.columns;
  return (1 - fy) * ((1 - fx) * p[0] + fx * p[1]) + fy * ((1 - fx) * q[0] + fx * q[1]);
}

Turned turn(const Survey& s, double angle) {
  Turned t;
  t.axis.apical = {std::sin(angle), std::cos(angle)};
  const double c = std::fabs(std::cos(angle)), d = std::fabs(std::sin(angle));
  t.columns = static_cast<int>(s.columns * c + s.rows * d) + 1;
  t.rows = static_cast<int>(s.columns * d + s.rows * c) + 1;
  const Point r = t.axis.right(), a = t.axis.apical;
  const double u0 = -0.5 * (t.columns - 1), v0 = -0.5 * (t.rows - 1);
  t.axis.origin = {0.5 * (s.columns - 1) + u0 * r.x + v0 * a.x,
                   0.5 * (s.rows - 1) + u0 * r.y + v0 * a.y};
  std::vector<float> raw(static_cast<std::size_t>(t.columns) * t.rows);
  for (int v = 0; v < t.rows; ++v)
    for (int u = 0; u < t.columns; ++u)
      raw[t.index(u, v)] =
          bilinear(s, t.axis.origin.x + u * r.x + v * a.x, t.axis.origin.y + u * r.y + v * a.y);
  t.value.assign(raw.size(), std::numeric_limits<float>::quiet_NaN());
  for (int u = 0; u < t.columns; ++u) {
    double sum = 0.0;
    int n = 0;
    for (int v = -kHalfBox; v < t.rows + kHalfBox; ++v) {
      const int in = v + kHalfBox, out = v - kHalfBox - 1;
      if (in < t.rows && raw[t.index(u, in)] == raw[t.index(u, in)])
        sum += raw[t.index(u, in)], ++n;
      if (out >= 0 && out < t.rows && raw[t.index(u, out)] == raw[t.index(u, out)])
        sum -= raw[t.index(u, out)], --n;
      if (v >= 0 && v < t.rows && n > kHalfBox)
        t.value[t.index(u, v)] = static_cast<float>(sum / n);
    }
  }
  t.step.assign(raw.size(), 0.0F);
  for (int v = 0; v < t.rows; ++v)
    for (int u = 2; u + 2 < t.columns; ++u) {
      const float* p = &t.value[t.index(u, v)];
      const float d4 = 0.5F * (p[1] + p[2] - p[-1] - p[-2]);
      if (d4 == d4) t.step[t.index(u, v)] = d4;
    }
  return t;
}

void row_edges(const Turned& t, int v, double least, std::vector<Edge>& rising,
               std::vector<Edge>& falling) {
  rising.clear();
  falling.clear();
  const float* d = &t.step[t.index(0, v)];
  for (int u = 3; u + 3 < t.columns; ++u) {
    const float a = std::fabs(d[u]);
    if (a < least || a < std::fabs(d[u - 1]) || a <= std::fabs(d[u + 1])) continue;
    if (a < std::fabs(d[u - 2]) || a < std::fabs(d[u + 2])) continue;
    (d[u] > 0 ? rising : falling).push_back({u, a});
  }
}

/// Inside must be brighter than what lies beyond either edge.
bool bright_between(const Turned& t, int v, int left, int right) {
  const float* p = &t.value[t.index(0, v)];
  const int w = right - left, reach = std::max(3, w / 8);
  auto mean = [&](int from, int to) {
    double sum = 0.0;
    int n = 0;
    for (int u = std::max(0, from); u <= std::min(t.columns - 1, to); ++u)
      if (p[u] == p[u]) sum += p[u], ++n;
    return n > 0 ? sum / n : 0.0;
  };
  const double inside = mean(left + w / 5, right - w / 5);
  return inside > mean(left - 2 - reach, left - 2) + 0.03 &&
         inside > mean(right + 2, right + 2 + reach) + 0.03;
}

std::vector<Pair> row_pairs(const Turned& t, int v, const RibbonSearch& search, double factor) {
  std::vector<Edge> rising, falling;
  row_edges(t, v, search.least_step, rising, falling);
  const double least_w = search.least_width_px / factor, most_w = search.most_width_px / factor;
  std::vector<Pair> pairs;
  for (const Edge& l : rising)
    for (const Edge& r : falling) {
      const int w = r.u - l.u;
      if (w < least_w || w > most_w || !bright_between(t, v, l.u, r.u)) continue;
      pairs.push_back({static_cast<float>(l.u), static_cast<float>(r.u), std::min(l.step, r.step)});
    }
  return pairs;
}

/// One edge with metal from it to where the picture ends, nearer than an implant's width.
std::vector<Pair> lone_pairs(const Turned& t, int v, const RibbonSearch& search, double factor,
                             int side) {
  std::vector<Edge> rising, falling;
  row_edges(t, v, 2.0 * search.least_step, rising, falling);
  const float* p = &t.value[t.index(0, v)];
  const int w = static_cast<int>(search.typical_width_px / factor);
  std::vector<Pair> pairs;
  for (const Edge& e : side < 0 ? rising : falling) {
    const int inward = side < 0 ? 1 : -1, outer = e.u - 3 * inward;
    if (outer < 0 || outer >= t.columns || !(p[outer] == p[outer])) continue;
    int n = 0;
    float darkest = 1e9F, sum = 0.0F;
    for (int u = e.u + 2 * inward; u >= 0 && u < t.columns && p[u] == p[u] && n <= w; u += inward) {
      darkest = std::min(darkest, p[u]);
      sum += p[u];
      ++n;
    }
    if (n < 0.25 * w || n >= w) continue;
    const float mean = sum / static_cast<float>(n);
    if (mean < 0.4F || darkest < p[outer] + 0.5F * (mean - p[outer])) continue;
    const float far = static_cast<float>(e.u + w * inward), here = static_cast<float>(e.u);
    pairs.push_back({std::min(here, far), std::max(here, far), e.step});
  }
  return pairs;
}

/// Strings pairs of successive rows together. side: 0 = two flanks, else the one in view.
std::vector<Chain> link_pairs(const Turned& t, const RibbonSearch& search, double factor,
                              int side) {
  std::vector<Chain> done, active;
  for (int v = 0; v < t.rows; v += kRowStep) {
    std::vector<char> taken(active.size(), 0);
    const std::size_t known = active.size();
    for (const Pair& pair :
         side == 0 ? row_pairs(t, v, search, factor) : lone_pairs(t, v, search, factor, side)) {
      std::size_t best = known;
      double best_distance = 6.0;
      for (std::size_t i = 0; i < known; ++i) {
        if (taken[i]) continue;
        const Pair& last = active[i].pairs.back();
        const double dl = std::fabs(last.left - pair.left);
        const double dr = std::fabs(last.right - pair.right);
        if (dl <= 3 && dr <= 3 && dl + dr < best_distance) best = i, best_distance = dl + dr;
      }
      if (best < known) {
        taken[best] = 1;
        active[best].v.push_back(v);
        active[best].pairs.push_back(pair);
      } else {
        active.push_back({{v}, {pair}});
      }
    }
    for (std::size_t i = 0; i < active.size();) {
      if (v - active[i].v.back() > 4 * kRowStep) {
        if (active[i].v.size() > 6) done.push_back(std::move(active[i]));
        if (i + 1 < active.size()) active[i] = std::move(active.back());
        active.pop_back();
      } else {
        ++i;
      }
    }
  }
  for (Chain& c : active)
    if (c.v.size() > 6) done.push_back(std::move(c));
  return done;
}

struct Line {
  double offset = 0, slope = 0;
  double at(double v) const { return offset + slope * v; }
};

Line fit_line(const std::vector<double>& v, const std::vector<double>& y,
              const std::vector<char>& use) {
  double n = 0, sv = 0, sy = 0, svv = 0, svy = 0;
  for (std::size_t i = 0; i < v.size(); ++i)
    if (use[i]) n += 1, sv += v[i], sy += y[i], svv += v[i] * v[i], svy += v[i] * y[i];
  const double det = n * svv - sv * sv;
  if (n < 3 || std::fabs(det) < 1e-9) return {n > 0 ? sy / n : 0, 0};
  const double slope = (n * svy - sv * sy) / det;
  return {(sy - slope * sv) / n, slope};
}

/// The longest stretch of a chain along which both edges are straight.
bool straight_part(const Chain& chain, std::size_t& first, std::size_t& last, Line& mid,
                   Line& width) {
  const std::size_t n = chain.v.size();
  std::vector<double> v(n), m(n), w(n);
  for (std::size_t i = 0; i < n; ++i) {
    v[i] = chain.v[i];
    m[i] = 0.5 * (chain.pairs[i].left + chain.pairs[i].right);
    w[i] = chain.pairs[i].right - chain.pairs[i].left;
  }
  double best = 0;
  std::vector<char> use(n);
  for (std::size_t a = 0; a + 6 < n; a += std::max<std::size_t>(1, n / 12))
    for (std::size_t b = n - 1; b > a + 5; b -= std::min(b, std::max<std::size_t>(1, n / 12))) {
      if (v[b] - v[a] <= best) break;
      for (std::size_t i = 0; i < n; ++i) use[i] = i >= a && i <= b;
      const Line lm = fit_line(v, m, use), lw = fit_line(v, w, use);
      double sum = 0;
      for (std::size_t i = a; i <= b; ++i) {
        const double em = m[i] - lm.at(v[i]), ew = w[i] - lw.at(v[i]);
        sum += em * em + 0.25 * ew * ew;
      }
      const double centre_width = lw.at(0.5 * (v[a] + v[b]));
      const double rms = std::sqrt(sum / (b - a + 1));
      if (rms > 1.0 + 0.02 * centre_width || std::fabs(lw.slope) > 0.35) continue;
      best = v[b] - v[a];
      first = a, last = b, mid = lm, width = lw;
    }
  return best > 0;
}

void chains_to_ribbons(const Turned& t, const std::vector<Chain>& chains, const Survey& survey,
                       int side, std::vector<Ribbon>& out) {
  for (const Chain& chain : chains) {
    std::size_t a = 0, b = 0;
    Line mid, width;
    if (!straight_part(chain, a, b, mid, width)) continue;
    if (std::fabs(mid.slope) > 1.2 * std::tan(kPi / kDirections)) continue;
    const double v0 = chain.v[a], v1 = chain.v[b], vc = 0.5 * (v0 + v1), w = width.at(vc);
    if (v1 - v0 < 0.8 * w || v1 - v0 < 12) continue;
    double step = 0;
    for (std::size_t i = a; i <= b; ++i) step += chain.pairs[i].step;
    const double coverage = (b - a + 1) * kRowStep / (v1 - v0 + kRowStep);
    Ribbon r;
    r.lone_side = side;
    r.strength = step / (b - a + 1) * coverage;
    const double cosine = 1.0 / std::sqrt(1.0 + mid.slope * mid.slope);
    r.axis.origin = survey.to_full(t.axis.to_image(mid.at(vc), vc));
    const Point right = t.axis.right();
    r.axis.apical = {cosine * (t.axis.apical.x + mid.slope * right.x),
                     cosine * (t.axis.apical.y + mid.slope * right.y)};
    r.half_width_px = 0.5 * w * cosine * survey.factor;
    r.half_length_px = 0.5 * (v1 - v0) / cosine * survey.factor;
    r.score = std::min(3.0, (v1 - v0) / w) * std::min(0.25, r.strength);
    out.push_back(r);
  }
}

bool same_place(const Ribbon& a, const Ribbon& b) {
  if ((a.lone_side == 0) != (b.lone_side == 0)) return false;
  const double cosine = a.axis.apical.x * b.axis.apical.x + a.axis.apical.y * b.axis.apical.y;
  if (std::fabs(cosine) < std::cos(12 * kPi / 180)) return false;
  const Point p = a.axis.from_image(b.axis.origin);
  if (std::fabs(p.x) > 0.5 * std::max(a.half_width_px, b.half_width_px)) return false;
  const double ratio = a.half_width_px / b.half_width_px;
  if (ratio > 1.5 || ratio < 0.67) return false;
  return std::fabs(p.y) < a.half_length_px + 0.5 * b.half_length_px;
}

}  // namespace

std::vector<Ribbon> find_ribbons(const Survey& survey, const RibbonSearch& search) {
  std::vector<Ribbon> all;
  for (int i = 0; i < kDirections; ++i) {
    const Turned t = turn(survey, i * kPi / kDirections);
    for (const int side : {0, -1, 1})
      chains_to_ribbons(t, link_pairs(t, search, survey.factor, side), survey, side, all);
  }
  return all;
}

std::vector<Ribbon> distinct_ribbons(std::vector<Ribbon> all, int most) {
  std::vector<Ribbon> kept;
  std::sort(all.begin(), all.end(),
            [](const Ribbon& a, const Ribbon& b) { return a.score > b.score; });
  int with_both = 0, with_one = 0;
  for (const Ribbon& r : all) {
    int& count = r.lone_side == 0 ? with_both : with_one;
    if (count >= (r.lone_side == 0 ? most : most / 3)) continue;
    if (std::none_of(kept.begin(), kept.end(), [&](const Ribbon& k) { return same_place(k, r); }))
      kept.push_back(r), ++count;
  }
  return kept;
}

}  // namespace crestgate
