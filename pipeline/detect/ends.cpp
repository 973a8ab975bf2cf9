#include "pipeline/detect/ends.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "pipeline/detect/segments.h"

namespace crestgate {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

double mean_of(const std::vector<double>& x, int a, int b) {
  double sum = 0.0;
  int n = 0;
  for (int i = std::max(0, a); i <= std::min(static_cast<int>(x.size()) - 1, b); ++i)
    if (x[i] == x[i]) sum += x[i], ++n;
  return n > 0 ? sum / n : kNan;
}

/// Evidence that smaller v is coronal (positive) or larger v (negative).
double low_is_coronal(const Body& b, Jaw jaw) {
  const FlankTrace& t = b.trace;
  const double r = b.radius_px;
  double score = 0.0;
  // Metal that goes on beyond the body is the mounted part.
  const int first = b.serration.strength > 0.5 ? b.serration.first : b.first;
  const int last = b.serration.strength > 0.5 ? b.serration.last : b.last;
  const double low = (t.v_px(first) - b.low.tip_v_px) / r;
  const double high = (b.high.tip_v_px - t.v_px(last)) / r;
  score += std::clamp(0.6 * (low - high), -1.0, 1.0);
  // Air or soft tissue around the coronal part, bone around the apical one.
  const int a = b.low.row, z = b.high.row, third = std::max(1, (z - a) / 3);
  auto around = [&](int i, int j) {
    return 0.5 * (mean_of(t.minus_outside, i, j) + mean_of(t.plus_outside, i, j));
  };
  const double darker_low = (around(z - third, z) - around(a, a + third)) / b.contrast;
  if (darker_low == darker_low) score += std::clamp(2.5 * darker_low, -1.0, 1.0);
  // Bodies taper towards the apex.
  const int third_body = std::max(1, (last - first) / 3);
  std::vector<double> w_low, w_high;
  for (int i = 0; i <= third_body; ++i) {
    w_low.push_back(t.half_width(first + i));
    w_high.push_back(t.half_width(last - i));
  }
  const double taper = (median_of(w_low) - median_of(w_high)) / r;
  if (taper == taper) score += std::clamp(4.0 * taper, -0.5, 0.5);
  if (jaw != Jaw::unknown && std::fabs(t.axis.apical.y) > 0.8) {
    const bool low_is_up = t.axis.apical.y > 0;
    score += (low_is_up == (jaw == Jaw::mandible)) ? 0.3 : -0.3;
  }
  return score;
}

/// The silhouette re-read from apical to coronal, thread valleys filled.
struct Outline {
  std::vector<double> side[2];  ///< outward edge position, px
  std::vector<double> closed[2];
  std::vector<int> row;  ///< row of the trace
  int thread_end = 0;    ///< last index with a thread valley; 0 = no threads
};

std::vector<double> close_valleys(const std::vector<double>& x, int half, double most_depth) {
  const int n = static_cast<int>(x.size());
  auto extreme = [&](const std::vector<double>& in, bool upper) {
    std::vector<double> out(n, kNan);
    for (int i = 0; i < n; ++i)
      for (int k = std::max(0, i - half); k <= std::min(n - 1, i + half); ++k)
        if (in[k] == in[k] && !(upper ? out[i] >= in[k] : out[i] <= in[k])) out[i] = in[k];
    return out;
  };
  std::vector<double> closed = extreme(extreme(x, true), false);
  for (int i = 0; i < n; ++i)
    if (!(closed[i] - x[i] <= most_depth)) closed[i] = x[i];
  return closed;
}

Outline outline(const Body& b, int sense) {
  const FlankTrace& t = b.trace;
  Outline o;
  const bool threaded = b.serration.strength > 0.35;
  const int start = threaded ? (b.serration.first + b.serration.last) / 2 : (b.first + b.last) / 2;
  const int stop = sense < 0 ? b.low.row : b.high.row;
  for (int i = start; sense < 0 ? i >= stop : i <= stop; i += sense) {
    o.row.push_back(i);
    o.side[0].push_back(-t.minus_px[i]);
    o.side[1].push_back(t.plus_px[i]);
  }
  const double depth = 2.5 * std::max(b.serration.minus_amplitude, b.serration.plus_amplitude);
  const int half = threaded ? static_cast<int>(0.55 * b.serration.pitch / t.step_px) : 0;
  for (int s = 0; s < 2; ++s)
    o.closed[s] = half > 0 ? close_valleys(o.side[s], half, 1.4 * depth) : o.side[s];
  if (!threaded) return o;
  const int patience = static_cast<int>(1.1 * b.serration.pitch / t.step_px);
  for (int i = 0; i < static_cast<int>(o.row.size()); ++i) {
    const double valley = std::fmax(o.closed[0][i] - o.side[0][i], o.closed[1][i] - o.side[1][i]);
    if (valley > 0.4 * depth)
      o.thread_end = i;
    else if (i - o.thread_end > patience && i > patience)
      break;
  }
  return o;
}

double edge_noise(const Outline& o) {
  std::vector<double> d;
  for (int s = 0; s < 2; ++s)
    for (std::size_t i = 2; i + 2 < o.side[s].size(); ++i)
      d.push_back(std::fabs(o.side[s][i - 2] - 2 * o.side[s][i] + o.side[s][i + 2]));
  const double m = median_of(d);
  return m == m ? m / 0.6745 / std::sqrt(6.0) : 0.0;
}

struct Break {
  int at = 0;                 ///< index into the outline
  double score = 0;           ///< 0..1
  double step = 0, bend = 0;  ///< outward step in radii, change of slope
};

/// How much a break looks like the shoulder of an implant.
Break rate(const Segment& a, const Segment& b, double radius, double step_px) {
  Break out;
  out.at = b.first;
  double step[2], bend[2];
  for (int s = 0; s < 2; ++s) {
    step[s] = (b.at_first[s] - a.at_last[s]) / radius;
    bend[s] = (b.slope_first[s] - a.slope_last[s]) / step_px;
  }
  out.step = 0.5 * (step[0] + step[1]);
  out.bend = 0.5 * (bend[0] + bend[1]);
  const double width = 0.5 * (a.at_last[0] + a.at_last[1]) / radius;
  if (width < 0.75 || width > 1.6) return out;
  const double by_step = std::min(1.0, std::fabs(out.step) / 0.10);
  const double by_bend = std::min(1.0, std::fabs(out.bend) / 0.20);
  out.score = std::max(by_step, 0.8 * by_bend);
  return out;
}

}  // namespace

Ends find_ends(const Body& b, Jaw jaw) {
  Ends e;
  const FlankTrace& t = b.trace;
  const double score = low_is_coronal(b, jaw);
  e.coronal_sense = score >= 0 ? -1 : 1;
  e.coronal_score = std::fabs(score);
  const MetalEnd& coronal = e.coronal_sense < 0 ? b.low : b.high;
  const MetalEnd& apical = e.coronal_sense < 0 ? b.high : b.low;
  e.apex_v_px = apical.tip_v_px;
  e.apex_in_view = !apical.at_border;
  e.platform_v_px = coronal.tip_v_px;
  e.platform_in_view = !coronal.at_border;
  e.platform_score = coronal.at_border ? 0.0 : 0.7;

  const Outline o = outline(b, e.coronal_sense);
  const double sigma = std::max({edge_noise(o), 0.3, 0.006 * b.radius_px});
  const int shortest = std::max(3, static_cast<int>(0.12 * b.radius_px / t.step_px));
  const std::vector<Segment> parts = split_silhouette(o.closed[0], o.closed[1], sigma, shortest);
  const int earliest = o.thread_end - static_cast<int>(0.5 * b.serration.pitch / t.step_px);
  const double end_distance = (static_cast<int>(o.row.size()) - 1 - o.thread_end) * t.step_px;
  Break best;
  for (std::size_t i = 1; i < parts.size(); ++i) {
    Break k = rate(parts[i - 1], parts[i], b.radius_px, t.step_px);
    if (k.at < earliest) continue;
    const double distance = (k.at - o.thread_end) * t.step_px / b.radius_px;
    k.score -= 0.15 * std::max(0.0, distance);
    // Close to where the metal ends anyway, it is that end's rounding.
    if (end_distance - (k.at - o.thread_end) * t.step_px < 0.25 * b.radius_px) continue;
    if (k.score > best.score + (best.score > 0 ? 0.1 : 0.0)) best = k;
  }
  if (best.score > 0.25) {
    e.platform_v_px = t.v_px(o.row[best.at]) - 0.5 * e.coronal_sense * t.step_px;
    e.platform_in_view = true;
    e.platform_score = best.score;
    e.part_mounted = true;
  }
  return e;
}

}  // namespace crestgate
