#include "pipeline/projection/thread_signal.h"

#include <algorithm>
#include <cmath>

#include "config/units.h"
#include "pipeline/image/statistics.h"

namespace crestgate {
namespace {

double total_power(const ThreadColumns& columns, double frequency) {
  double sum = 0;
  for (int c = 0; c < kThreadColumns; ++c)
    if (columns.usable(c)) sum += std::norm(columns.amplitude(c, frequency));
  return sum;
}

/// Top of the peak of power next to `frequency`.
double refine_frequency(const ThreadColumns& columns, double frequency) {
  double best = frequency, step = 0.125 / columns.rows();
  double height = total_power(columns, frequency);
  for (int i = 0; i < 8; ++i, step /= 2)
    for (const double f : {best - step, best + step})
      if (const double p = f > 0 ? total_power(columns, f) : 0.0; p > height) height = p, best = f;
  return best;
}

struct Peak {
  double frequency, power, prominence;  ///< prominence: over the median of the octave around it
};

/// Periods worth a fit. Bone texture is strongest at low frequencies, so that peaks are taken by
/// power and by prominence; half and double the strongest period, since one pattern shows all.
std::vector<Peak> find_peaks(const ThreadColumns& columns, double shortest, double longest) {
  // Steps of a quarter of the spectral resolution, even in frequency.
  std::vector<Peak> spectrum;
  for (double f = 1 / longest; f <= 1 / shortest; f += 0.25 / columns.rows())
    spectrum.push_back({f, total_power(columns, f), 0});
  if (spectrum.size() < 5) return {};
  for (Peak& p : spectrum) {
    std::vector<double> around;
    for (const Peak& q : spectrum)
      if (q.frequency > 0.6 * p.frequency && q.frequency < 1.7 * p.frequency &&
          std::abs(q.frequency - p.frequency) > 1.5 / columns.rows())
        around.push_back(q.power);
    p.prominence = p.power / std::max(1e-12, median_of(around));
  }
  std::vector<Peak> peaks;
  for (std::size_t i = 1; i + 1 < spectrum.size(); ++i)
    if (spectrum[i].power > spectrum[i - 1].power && spectrum[i].power >= spectrum[i + 1].power)
      peaks.push_back(spectrum[i]);
  std::vector<Peak> result;
  constexpr double kLeastProminence = 3.0;
  const auto take = [&](double frequency) {
    if (frequency < 1 / longest || frequency > 1 / shortest) return;
    for (const Peak& p : result)
      if (std::abs(p.frequency - frequency) < 1.0 / columns.rows()) return;
    for (const Peak& p : spectrum)
      if (std::abs(p.frequency - frequency) <= 0.13 / columns.rows()) {
        if (p.prominence > kLeastProminence) result.push_back({frequency, p.power, p.prominence});
        return;
      }
  };
  std::sort(peaks.begin(), peaks.end(), [](auto& a, auto& b) { return a.power > b.power; });
  for (std::size_t i = 0; i < std::min<std::size_t>(2, peaks.size()); ++i) take(peaks[i].frequency);
  std::sort(peaks.begin(), peaks.end(),
            [](auto& a, auto& b) { return a.prominence > b.prominence; });
  for (std::size_t i = 0; i < std::min<std::size_t>(3, peaks.size()); ++i) take(peaks[i].frequency);
  if (!result.empty()) take(2 * result.front().frequency);
  if (!result.empty()) take(0.5 * result.front().frequency);
  return result;
}

/// Variance of the amplitudes of column c at frequencies next to `frequency`, where there is no
/// thread. Bone texture falls as about 1 / frequency^2 in power (radiographic trabecular texture,
/// common practice; sensor noise is flat), so that neighbours are brought to `frequency` with half
/// that slope: it matters only where the lower neighbours are lost in the removed trend.
double noise_variance(const ThreadColumns& columns, int c, double frequency) {
  const double resolution = 2.0 / columns.rows(), lowest = 3.5 / columns.rows();
  double sum = 0;
  int n = 0;
  for (const double off : {-2.2, -1.7, -1.2, 1.2, 1.7, 2.2}) {
    const double f = frequency + off * resolution;
    if (f < lowest) continue;
    sum += std::norm(columns.amplitude(c, f)) * (f / frequency);
    ++n;
  }
  return sum / std::max(1, n);
}

/// How far out the thread's pattern reaches, in units of the columns' crest radius: thin fins are
/// too faint to move the silhouette's half-level edge, but their period is seen well beyond it.
double pattern_reach(const ThreadColumns& columns, double frequency, double inner_x) {
  double strongest = 0;
  for (int c = 0; c < kThreadColumns; ++c)
    if (columns.usable(c) && std::abs(thread_column_x(c)) > 0.7 * inner_x)
      strongest = std::max(strongest, std::norm(columns.amplitude(c, frequency)));
  double reach = 2 * kWidestX;
  for (const int side : {-1, 1}) {
    double outermost = 0;
    int silent = 0;  // the beating of near and far crests can silence a few columns
    for (int i = 0; i < kThreadColumns && silent < 4; ++i) {
      const int c = side > 0 ? i : kThreadColumns - 1 - i;
      const double x = side * thread_column_x(c);
      if (x < 0.9 * inner_x) continue;
      if (!columns.usable(c)) break;
      const double power = std::norm(columns.amplitude(c, frequency));
      const bool heard =
          power > 0.05 * strongest && power > 12 * noise_variance(columns, c, frequency);
      silent = heard ? 0 : silent + 1;
      if (heard) outermost = x;
    }
    reach = std::min(reach, outermost);  // both flanks must show it: one may be bone texture
  }
  return reach;
}

/// |x| of the outermost columns that are clipped more than half of their length (a channel in the
/// core may still show); 0 = no clipping.
double clipped_within(const ThreadColumns& columns) {
  double sum = 0;
  for (const int side : {-1, 1}) {
    int c = side > 0 ? kThreadColumns - 2 : 1;
    while (c > 0 && c < kThreadColumns - 1 && columns.flat_share(c) <= 0.5) c -= side;
    if (c == 0 || c == kThreadColumns - 1) return 0.0;
    const double outer = columns.flat_share(c + side), inner = columns.flat_share(c);
    const double beyond = (inner - 0.5) / std::max(1e-9, inner - outer);  // in columns
    sum += side * thread_column_x(c) + beyond * (thread_column_x(1) - thread_column_x(0));
  }
  return std::max(0.0, 0.5 * sum);
}

void fill_amplitudes(const ThreadColumns& columns, ThreadSignal& signal) {
  const double base = 1 / signal.pitch_px;
  for (int k = 0; k < kHarmonics; ++k) {
    std::vector<double> variance(kThreadColumns, 0.0), seen;
    for (int c = 0; c < kThreadColumns; ++c) {
      if (!columns.usable(c)) continue;
      signal.amplitude[k][c] = columns.amplitude(c, (k + 1) * base);
      variance[c] = noise_variance(columns, c, (k + 1) * base);
      seen.push_back(variance[c]);
    }
    const double floor = 0.09 * median_of(seen);
    for (int c = 0; c < kThreadColumns; ++c) {
      if (!columns.usable(c)) continue;
      double sum = 0, weight = 0;
      for (int d = std::max(0, c - 4); d <= std::min(kThreadColumns - 1, c + 4); ++d)
        if (columns.usable(d)) {
          const double w = std::exp(-0.125 * (d - c) * (d - c));
          sum += w * variance[d], weight += w;
        }
      signal.noise[k][c] = std::sqrt(std::max({sum / weight, floor, 1e-18}));
    }
  }
}

constexpr double kWide = 1.4;

struct Stretch {
  const Frame& frame;
  const ImplantShape& shape;
  Silhouette outline;
  double v_begin_px, v_end_px;

  /// The crest line by the silhouette, moved outwards.
  Line crest(double by) const {
    by *= outline.crest_ratio;
    return {outline.mean_radius.at0 * by, outline.mean_radius.slope * by};
  }

  ThreadSignal signal(const ThreadColumns& wide, double frequency) const {
    const double middle = 0.5 * (v_begin_px + v_end_px);
    const double reach = kWide * pattern_reach(wide, frequency, 1 / kWide);
    const Line outer = crest(std::clamp(reach / 1.1, 1.0, 1.5));
    const ThreadColumns columns(frame, shape.axis, outer, v_begin_px, v_end_px);
    ThreadSignal s;
    s.v_begin_px = v_begin_px;
    s.v_end_px = v_end_px;
    s.crest_radius_px = outer.at(middle);
    s.crest_px = outer;
    s.depth_px = outer.at(middle) - outline.root_ratio * outline.mean_radius.at(middle);
    s.pitch_px = 1 / frequency;
    s.white_x = s.clip_x = clipped_within(columns);
    fill_amplitudes(columns, s);
    return s;
  }
};

}  // namespace

std::optional<ThreadSignal> thread_signal(const Frame& frame, const ImplantShape& shape,
                                          double v_begin_px, double v_end_px, double pitch_px,
                                          Pitch pitch) {
  if (v_end_px - v_begin_px < std::max(24.0, 3 * pitch_px)) return std::nullopt;
  const auto outline = silhouette(shape, v_begin_px, v_end_px);
  if (!outline) return std::nullopt;
  const Stretch stretch{frame, shape, *outline, v_begin_px, v_end_px};
  const ThreadColumns wide(frame, shape.axis, stretch.crest(kWide), v_begin_px, v_end_px);
  return stretch.signal(wide,
                        pitch == Pitch::near ? refine_frequency(wide, 1 / pitch_px) : 1 / pitch_px);
}

std::vector<ThreadSignal> thread_signals(const Frame& frame, const ImplantShape& shape,
                                         double v_begin_px, double v_end_px) {
  std::vector<ThreadSignal> result;
  if (v_end_px - v_begin_px < 24) return result;
  const auto outline = silhouette(shape, v_begin_px, v_end_px);
  if (!outline) return result;
  const Line& mean = outline->mean_radius;
  const double middle = 0.5 * (v_begin_px + v_end_px);
  const double crest_px = mean.at(middle) * outline->crest_ratio;
  const double shortest = std::max(4.0, 0.12 * crest_px);
  const double longest = std::min(0.95 * crest_px, 0.34 * (v_end_px - v_begin_px));
  if (longest <= shortest) return result;

  // First look, wide enough for fins outside the silhouette's edge: periods and their reach.
  const Stretch stretch{frame, shape, *outline, v_begin_px, v_end_px};
  const ThreadColumns wide(frame, shape.axis, stretch.crest(kWide), v_begin_px, v_end_px);
  for (const Peak& peak : find_peaks(wide, shortest, longest))
    result.push_back(stretch.signal(wide, refine_frequency(wide, peak.frequency)));
  return result;
}

}  // namespace crestgate
