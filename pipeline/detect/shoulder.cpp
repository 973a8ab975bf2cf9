#include "pipeline/detect/shoulder.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "pipeline/detect/segments.h"
#include "pipeline/image/statistics.h"

namespace crestgate {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

/// The silhouette re-read from the middle of the body to its coronal end.
struct Outline {
  std::vector<int> row;           ///< row of the trace
  std::vector<double> side[2];    ///< outward edge position, px
  double pitch = 0.0;             ///< samples; 0 = no thread
  std::vector<int> valleys[2];    ///< thread valleys of each flank, up to the last in rhythm
  std::vector<double> filled[2];  ///< with every valley narrower than a pitch filled
};

/// Morphological closing along v; fills at most `most_depth`.
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

/// Deepest samples of successive valleys as long as they follow each other in the thread's rhythm.
std::vector<int> valleys_of(const std::vector<double>& x, const std::vector<double>& filled,
                            double depth, double pitch) {
  std::vector<int> out;
  const int n = static_cast<int>(x.size());
  for (int i = 0; i < n;) {
    if (!(filled[i] - x[i] > 0.4 * depth)) {
      ++i;
      continue;
    }
    int deepest = i;
    for (; i < n && filled[i] - x[i] > 0.4 * depth; ++i)
      if (filled[i] - x[i] > filled[deepest] - x[deepest]) deepest = i;
    if (deepest - (out.empty() ? 0 : out.back()) > 1.35 * pitch) break;
    out.push_back(deepest);
  }
  return out;
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
  o.pitch = threaded ? b.serration.pitch / t.step_px : 0.0;
  const double amplitude[2] = {b.serration.minus_amplitude, b.serration.plus_amplitude};
  const double larger = std::max(amplitude[0], amplitude[1]);
  for (int s = 0; s < 2; ++s) {
    o.filled[s] = threaded
                      ? close_valleys(o.side[s], static_cast<int>(0.55 * o.pitch), 3.5 * larger)
                      : o.side[s];
    // A flank whose thread is blurred away has no valleys to count.
    if (threaded && amplitude[s] > 0.3 * larger)
      o.valleys[s] = valleys_of(o.side[s], o.filled[s], 2.5 * amplitude[s], o.pitch);
  }
  return o;
}

int last_valley(const Outline& o) {
  int last = 0;
  for (const auto& v : o.valleys)
    if (!v.empty()) last = std::max(last, v.back());
  return last;
}

/// Valleys filled up to each flank's last thread valley; coronal of it the silhouette is read as it
/// is, since a notch there is the joint itself. With `spare_last` the most coronal valley counts as
/// such a notch: a joint one pitch beyond the thread looks like one more turn.
void fill_threads(const Outline& o, bool spare_last, std::vector<double> out[2]) {
  const double notch = last_valley(o) - 0.25 * o.pitch;
  for (int s = 0; s < 2; ++s) {
    out[s] = o.side[s];
    int upto = -1;
    for (const int v : o.valleys[s])
      if (!spare_last || v < notch) upto = v + static_cast<int>(0.5 * o.pitch);
    for (int i = 0; i <= std::min(upto, static_cast<int>(o.row.size()) - 1); ++i)
      out[s][i] = o.filled[s][i];
  }
}

double edge_noise(const Outline& o) {
  std::vector<double> d;
  for (int s = 0; s < 2; ++s)
    for (std::size_t i = 2; i + 2 < o.side[s].size(); ++i)
      d.push_back(std::fabs(o.side[s][i - 2] - 2 * o.side[s][i] + o.side[s][i + 2]));
  const double m = median_of(d);
  return m == m ? m / 0.6745 / std::sqrt(6.0) : 0.0;
}

/// A change of course between two long stretches A (apical) and B, short ones between skipped.
struct Event {
  int from = 0, to = 0;       ///< outline indices: A's last and B's first
  double at = 0;              ///< where the two courses meet or the step is steepest
  double step = 0, bend = 0;  ///< outward going coronal; radii, slope
  double width = 0;           ///< half width at A's end, radii
  double slope_after = 0;
  double stretch = 0;  ///< length of B, radii
  double notch = 0;    ///< how far the silhouette dips below both courses, radii
  double score = 0;
};

double half_width(const Outline& o, int i) { return 0.5 * (o.side[0][i] + o.side[1][i]); }

/// Steepest place of the step, bottom of the notch, or the meeting point of the two courses.
void settle(const Outline& o, const Segment& a, const Segment& b, double radius, double step_px,
            Event& e) {
  const int n = static_cast<int>(o.row.size());
  const int margin = 2 + (e.to - e.from) / 4;
  int lowest = -1;
  double steepest = 0.0, steepest_at = 0.5 * (e.from + e.to);
  for (int i = std::max(2, e.from - margin); i <= std::min(n - 3, e.to + margin); ++i) {
    const double w = half_width(o, i);
    if (w == w && (lowest < 0 || w < half_width(o, lowest))) lowest = i;
    const double fall = (half_width(o, i + 2) + half_width(o, i + 1) - half_width(o, i - 1) -
                         half_width(o, i - 2)) *
                        (e.step < 0 ? -1 : 1);
    if (fall > steepest) steepest = fall, steepest_at = i;
  }
  if (lowest >= 0) {
    const double wa = 0.5 * (a.at(0, lowest) + a.at(1, lowest));
    const double wb = 0.5 * (b.at(0, lowest) + b.at(1, lowest));
    e.notch = std::max(0.0, (std::min(wa, wb) - half_width(o, lowest)) / radius);
  }
  const double meet =
      0.5 * (e.from + e.to) - (std::fabs(e.bend) > 1e-6 ? e.step / e.bend * radius : 0.0) / step_px;
  if (e.step < -0.05)
    e.at = steepest_at;
  else if (e.notch > 0.012 && e.notch * radius > 0.5)
    e.at = lowest;
  else if (e.step > 0.08)
    e.at = steepest_at;
  else
    e.at = std::clamp(meet, static_cast<double>(e.from), static_cast<double>(e.to));
}

/// How much an event looks like the shoulder of an implant: 0 not, 1 clearly, more for a deep step.
double rate(const Event& e) {
  if (e.width < 0.7 || e.width > 1.65) return 0.0;
  double score = 0.0;
  // Onto a narrower part: nothing else on an implant does that as sharply.
  if (e.step < 0)
    score = std::min(1.0, -e.step / 0.06) + std::clamp((-e.step - 0.1) / 0.2, 0.0, 0.5);
  // A smooth collar may stand out a little from the thread and runs straight on, or flares briefly.
  const bool collar = e.step < 0.15 && std::fabs(e.slope_after) < 0.08;
  const double lasting = std::min(1.0, e.stretch / 0.5);
  if (!collar) score = std::max(score, 0.9 * std::min(1.0, e.step / 0.12) * lasting);
  if (!collar) score = std::max(score, 0.8 * std::min(1.0, e.bend / 0.12) * lasting);
  score = std::max(score, 0.5 * std::min(1.0, -e.bend / 0.3));  // end of a flared neck
  return score + 0.3 * std::min(1.0, e.notch / 0.03);
}

std::vector<Event> events_of(const std::vector<Segment>& parts, const Outline& o, double radius,
                             double step_px) {
  std::vector<Event> events;
  const double least = 0.18 * radius / step_px;
  const Segment* a = nullptr;
  for (const Segment& b : parts) {
    if (b.last - b.first + 1 < least) continue;
    if (a != nullptr) {
      Event e;
      e.from = a->last;
      e.to = b.first;
      e.stretch = (b.last - b.first) * step_px / radius;
      const double middle = 0.5 * (e.from + e.to);
      for (int s = 0; s < 2; ++s) {
        e.step += 0.5 * (b.at(s, middle) - a->at(s, middle)) / radius;
        e.bend += 0.5 * (b.slope[s] - a->slope[s]) / step_px;
        e.width += 0.5 * a->at_last[s] / radius;
        e.slope_after += 0.5 * b.slope[s] / step_px;
      }
      settle(o, *a, b, radius, step_px, e);
      e.score = rate(e);
      events.push_back(e);
    }
    a = &b;
  }
  return events;
}

}  // namespace

std::optional<Shoulder> find_shoulder(const Body& b, int coronal_sense) {
  const FlankTrace& t = b.trace;
  const Outline o = outline(b, coronal_sense);
  const double sigma = std::max({edge_noise(o), 0.3, 0.006 * b.radius_px});
  const int shortest = std::max(3, static_cast<int>(0.07 * b.radius_px / t.step_px));
  const double per_radius = t.step_px / b.radius_px;
  const int thread_end = last_valley(o);
  const double end = static_cast<double>(o.row.size()) - 1;
  Event best;
  for (const bool spare_last : {false, true}) {
    if (spare_last && o.pitch == 0) break;
    std::vector<double> filled[2];
    fill_threads(o, spare_last, filled);
    for (Event e : events_of(split_silhouette(filled[0], filled[1], sigma, shortest), o,
                             b.radius_px, t.step_px)) {
      // Close to where the metal ends anyway, it is that end's own rounding.
      if (e.to < thread_end - o.pitch || (end - e.at) * per_radius < 0.25) continue;
      e.score -= 0.1 * std::max(0.0, (e.at - thread_end) * per_radius);
      if (spare_last) e.score -= 0.15;  // the less likely reading
      if (e.score > best.score) best = e;
    }
  }
  if (best.score < 0.35) return std::nullopt;
  Shoulder s;
  s.v_px = t.v_px(o.row[0]) + coronal_sense * best.at * t.step_px;
  s.score = std::min(1.0, best.score);
  s.step = best.step;
  s.bend = best.bend;
  return s;
}

}  // namespace crestgate
