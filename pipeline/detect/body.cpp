#include "pipeline/detect/body.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "pipeline/image/statistics.h"

namespace crestgate {
namespace {

constexpr double kBeyond = 5.0;  // radii traced past the body: a crown is at most that tall
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

/// Running median of the half width over +-reach rows.
std::vector<double> smooth_half_width(const FlankTrace& t, int reach) {
  std::vector<double> out(t.size(), kNan);
  for (int i = 0; i < t.size(); ++i) {
    std::vector<double> w;
    for (int k = std::max(0, i - reach); k <= std::min(t.size() - 1, i + reach); ++k)
      if (t.half_width(k) == t.half_width(k)) w.push_back(t.half_width(k));
    if (static_cast<int>(w.size()) > reach / 2) out[i] = median_of(w);
  }
  return out;
}

/// Grows [first, last] while the width follows the body's own straight taper.
void grow(const FlankTrace& t, double radius, int& first, int& last) {
  const int reach = std::max(2, static_cast<int>(0.2 * radius / t.step_px));
  const std::vector<double> w = smooth_half_width(t, reach);
  std::vector<double> core_step(t.minus_step.begin() + first, t.minus_step.begin() + last + 1);
  core_step.insert(core_step.end(), t.plus_step.begin() + first, t.plus_step.begin() + last + 1);
  const double least_step = 0.3 * median_of(core_step);
  // Theil-Sen on a few rows: slope of the taper.
  std::vector<double> slopes, level;
  const int stride = std::max(1, (last - first) / 24);
  for (int i = first; i <= last; i += stride)
    for (int j = i + (last - first) / 3; j <= last; j += stride)
      if (j > i && w[i] == w[i] && w[j] == w[j]) slopes.push_back((w[j] - w[i]) / (j - i));
  double slope = slopes.empty() ? 0.0 : median_of(slopes);
  slope = std::clamp(slope, -0.12 * t.step_px, 0.12 * t.step_px);
  const int middle = (first + last) / 2;
  for (int i = first; i <= last; ++i) level.push_back(w[i] - slope * (i - middle));
  const double at_middle = median_of(level);
  auto fits = [&](int i) {
    const double model = at_middle + slope * (i - middle);
    return w[i] == w[i] && std::fabs(w[i] - model) < 0.14 * radius &&
           std::fmax(t.minus_step[i], t.plus_step[i]) > least_step;
  };
  // The longest run of fitting rows that touches the seed.
  const int patience = std::max(2, static_cast<int>(0.2 * radius / t.step_px));
  const int seed_first = first, seed_last = last;
  first = last = middle;
  for (int start = -1, good = -1, i = 0; i <= t.size(); ++i) {
    const bool fit = i < t.size() && fits(i);
    if (fit && start < 0) start = i;
    if (fit) good = i;
    if (start >= 0 && (i == t.size() || i - good > patience)) {
      if (start <= seed_last && good >= seed_first && good - start > last - first)
        first = start, last = good;
      start = -1;
    }
  }
}

/// Half width over the thread crests: the flanks' own 90 % levels, since the crests of the two
/// sides need not lie opposite each other.
double crest_level(const FlankTrace& t, int first, int last) {
  double sum = 0.0;
  for (const std::vector<double>* side : {&t.minus_px, &t.plus_px}) {
    std::vector<double> w;
    for (int i = first; i <= last; ++i)
      if ((*side)[i] == (*side)[i]) w.push_back(std::fabs((*side)[i]));
    if (w.empty()) return kNan;
    std::sort(w.begin(), w.end());
    sum += w[w.size() * 9 / 10];
  }
  return 0.5 * sum;
}

MetalEnd find_end(const Body& b, const Field& field, int sense) {
  const FlankTrace& t = b.trace;
  const int n = t.size();
  const int patience = std::max(3, static_cast<int>(0.45 * b.radius_px / t.step_px));
  MetalEnd end;
  int i = (b.first + b.last) / 2, bad = 0;
  end.row = i;
  for (; i >= 0 && i < n && bad <= patience; i += sense) {
    const double outside = std::fmin(t.minus_outside[i], t.plus_outside[i]);
    const double c = t.inside[i] - outside;
    if (c > 0.4 * b.contrast && t.inside[i] > b.level - 0.75 * b.contrast)
      end.row = i, bad = 0;
    else
      ++bad;
  }
  const Point p = t.axis.to_image(0.0, t.v_px(end.row) + sense * 0.12 * b.radius_px);
  end.at_border = !field.contains(p, 1.0) || end.row <= 1 || end.row >= n - 2;
  end.tip_v_px = t.v_px(end.row);
  if (end.at_border) return end;
  // Half level of the core between metal and what lies beyond.
  const int reach = std::max(3, static_cast<int>(0.3 * b.radius_px / t.step_px));
  std::vector<double> metal, beyond;
  for (int k = 1; k <= reach; ++k) {
    const int in = end.row - sense * (k + reach / 2), out = end.row + sense * (k + reach / 3);
    if (in >= 0 && in < n) metal.push_back(t.core[in]);
    if (out >= 0 && out < n) beyond.push_back(t.core[out]);
  }
  const double level = 0.5 * (median_of(metal) + median_of(beyond));
  if (!(level == level)) return end;
  for (int k = end.row - sense * reach; k != end.row + sense * reach; k += sense) {
    const int j = k + sense;
    if (std::min(k, j) < 0 || std::max(k, j) >= n) break;
    if (t.core[k] >= level && t.core[j] < level) {
      end.tip_v_px = t.v_px(k) + sense * t.step_px * (t.core[k] - level) / (t.core[k] - t.core[j]);
      break;
    }
  }
  return end;
}

void measure_body(Body& b, const Frame& frame, const Field& field) {
  const FlankTrace& t = b.trace;
  std::vector<double> contrast, level, minus, plus;
  for (int i = b.first; i <= b.last; ++i) {
    contrast.push_back(t.inside[i] - 0.5 * (t.minus_outside[i] + t.plus_outside[i]));
    level.push_back(t.inside[i]);
    minus.push_back(t.minus_px[i]);
    plus.push_back(t.plus_px[i]);
  }
  b.contrast = median_of(contrast);
  b.level = median_of(level);
  b.radius_px = crest_level(t, b.first, b.last);
  const double r = b.radius_px / t.step_px;
  b.serration =
      find_serration(minus, plus, std::max(3.0, 0.1 * r), 0.8 * r, static_cast<int>(2.5 * r));
  b.serration.first += b.first;  // rows of the trace from here on
  b.serration.last += b.first;
  b.serration.pitch *= t.step_px;
  b.serration.minus_pitch *= t.step_px;
  b.serration.plus_pitch *= t.step_px;
  // The thread's own crests, where there is one: a flared neck would count as radius otherwise.
  if (t.lone_side == 0 && b.serration.strength > 0.5)
    b.radius_px = crest_level(t, b.serration.first, b.serration.last);
  b.stripes = find_stripes(frame, t, b.first, b.last, b.radius_px);
  b.low = find_end(b, field, -1);
  b.high = find_end(b, field, 1);
}

}  // namespace

Body work_out_body(const Frame& frame, const Field& field, const AxisFrame& seed, double radius_px,
                   double half_length_px, double samples_per_radius, int lone_side) {
  Body b;
  AxisFrame axis = seed;
  double radius = radius_px, low = -half_length_px, high = half_length_px;
  for (int pass = 0; pass < 3; ++pass) {
    const bool last_pass = pass == 2;
    const double step = std::max(1.0, radius / (last_pass ? samples_per_radius : 20.0));
    const double reach = (last_pass ? kBeyond : 2.0) * radius;
    b.trace = trace_flanks(frame, field, axis, radius, low - reach, high + reach, step, {low, high},
                           lone_side);
    b.first = b.trace.index(low);
    b.last = b.trace.index(high);
    if (b.last - b.first < 8) return {};
    grow(b.trace, radius, b.first, b.last);
    if (b.last - b.first < 8) return {};
    low = b.trace.v_px(b.first);
    high = b.trace.v_px(b.last);
    const double better = crest_level(b.trace, b.first, b.last);
    if (!(better == better)) return {};
    if (lone_side == 0) radius = std::clamp(better, 0.6 * radius, 1.5 * radius);
    if (!last_pass) axis = fit_axis(b.trace, b.first, b.last);
  }
  measure_body(b, frame, field);
  if (!(b.radius_px > 0) || !(b.contrast > 0)) return {};
  return b;
}

Body refit_body(const Frame& frame, const Field& field, const Body& body, double v_from_px,
                double v_to_px, double samples_per_radius) {
  Body b = body;
  const double low = std::min(v_from_px, v_to_px), high = std::max(v_from_px, v_to_px);
  const bool lone = body.trace.lone_side != 0;
  double radius = lone ? body.radius_px
                       : crest_level(body.trace, body.trace.index(low), body.trace.index(high));
  for (int pass = 0; pass < 2; ++pass) {
    const int first = b.trace.index(low), last = b.trace.index(high);
    if (last - first < 8 || !(radius > 0)) return {};
    const AxisFrame axis = fit_axis(b.trace, first, last);
    const double step = std::max(1.0, radius / samples_per_radius);
    const double reach = (pass == 1 ? kBeyond : 0.5) * radius;
    b.trace = trace_flanks(frame, field, axis, radius, low - reach, high + reach, step, {low, high},
                           body.trace.lone_side);
    if (!lone) radius = crest_level(b.trace, b.trace.index(low), b.trace.index(high));
  }
  b.first = b.trace.index(low);
  b.last = b.trace.index(high);
  measure_body(b, frame, field);
  if (!(b.radius_px > 0) || !(b.contrast > 0)) return {};
  return b;
}

}  // namespace crestgate
