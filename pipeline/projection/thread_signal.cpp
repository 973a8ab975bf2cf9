#include "pipeline/projection/thread_signal.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "config/units.h"

namespace crestgate {
namespace {

struct Line {
  double at0 = 0, slope = 0;
  double at(double v) const { return at0 + slope * v; }
};

double median(std::vector<double> values) {
  if (values.empty()) return 0.0;
  const auto middle = values.begin() + values.size() / 2;
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

/// Least-squares line through (v, y), three passes that drop points beyond 2.5 robust sd.
std::optional<Line> robust_line(const std::vector<double>& v, const std::vector<double>& y) {
  std::vector<char> keep(v.size(), 1);
  Line line;
  for (int pass = 0; pass < 4; ++pass) {
    double n = 0, sv = 0, sy = 0, svv = 0, svy = 0;
    for (std::size_t i = 0; i < v.size(); ++i) {
      if (!keep[i]) continue;
      n += 1, sv += v[i], sy += y[i], svv += v[i] * v[i], svy += v[i] * y[i];
    }
    const double det = n * svv - sv * sv;
    if (n < 8 || det <= 0) return std::nullopt;
    line.slope = (n * svy - sv * sy) / det;
    line.at0 = (sy - line.slope * sv) / n;
    std::vector<double> deviation;
    for (std::size_t i = 0; i < v.size(); ++i) deviation.push_back(std::abs(y[i] - line.at(v[i])));
    const double bound = std::max(1.0, 2.5 * 1.4826 * median(deviation));
    for (std::size_t i = 0; i < v.size(); ++i) keep[i] = deviation[i] <= bound;
  }
  return line;
}

struct Silhouette {
  Line mean_radius;
  double crest_ratio = 1, root_ratio = 1;  ///< crest and root radius over the mean line
};

std::optional<Silhouette> silhouette(const ImplantShape& shape, double v0, double v1) {
  std::vector<double> v[2], radius[2];
  const std::vector<double>* edges[2] = {&shape.minus_edge_px, &shape.plus_edge_px};
  for (int side = 0; side < 2; ++side)
    for (std::size_t i = 0; i < edges[side]->size(); ++i)
      if (i >= v0 && i <= v1 && std::isfinite((*edges[side])[i])) {
        v[side].push_back(static_cast<double>(i));
        radius[side].push_back(std::abs((*edges[side])[i]));
      }
  std::vector<double> all_v = v[0], all_radius = radius[0];
  all_v.insert(all_v.end(), v[1].begin(), v[1].end());
  all_radius.insert(all_radius.end(), radius[1].begin(), radius[1].end());
  const auto line = robust_line(all_v, all_radius);
  if (!line || line->at(v0) < 3 || line->at(v1) < 3) return std::nullopt;
  Silhouette s;
  s.mean_radius = *line;
  s.crest_ratio = 1.35;
  s.root_ratio = 0.6;
  // The calmer flank decides: a tooth or another implant beside one flank lifts its edge.
  for (int side = 0; side < 2; ++side) {
    if (v[side].size() < 8) continue;
    std::vector<double> ratio;
    for (std::size_t i = 0; i < v[side].size(); ++i)
      ratio.push_back(radius[side][i] / line->at(v[side][i]));
    std::sort(ratio.begin(), ratio.end());
    const double last = static_cast<double>(ratio.size() - 1);
    s.crest_ratio = std::min(s.crest_ratio, ratio[static_cast<std::size_t>(0.92 * last)]);
    s.root_ratio = std::max(s.root_ratio, ratio[static_cast<std::size_t>(0.08 * last)]);
  }
  s.crest_ratio = std::max(s.crest_ratio, 1.0);
  s.root_ratio = std::min(s.root_ratio, 1.0);
  return s;
}

/// Columns of grey values along v, each freed of its slow trend (polynomial of degree 6).
class Columns {
 public:
  Columns(const Frame& frame, const AxisFrame& axis, const Line& crest, double v0, double v1)
      : v0_(v0), rows_(static_cast<int>(v1 - v0)) {
    for (int c = 0; c < kThreadColumns; ++c) {
      std::vector<double> column(rows_);
      bool whole = true;
      for (int r = 0; r < rows_ && whole; ++r) {
        const double v = v0 + r;
        const float g = interpolate(frame, axis.to_image(thread_column_x(c) * crest.at(v), v));
        whole = std::isfinite(g);
        column[r] = g;
      }
      values_.push_back(whole ? column : std::vector<double>());
      if (whole) remove_trend(values_.back());
    }
    window_.resize(rows_);
    for (int r = 0; r < rows_; ++r)
      window_[r] = 0.5 * (1 - std::cos(2 * kPi * (r + 1) / (rows_ + 1)));
    const double sum = std::accumulate(window_.begin(), window_.end(), 0.0);
    for (double& w : window_) w /= sum;
  }

  bool usable(int c) const { return !values_[c].empty(); }
  int rows() const { return rows_; }

  /// Windowed Fourier amplitude of column c at `frequency` cycles per px, z = -v.
  std::complex<double> amplitude(int c, double frequency) const {
    const std::complex<double> turn = std::polar(1.0, 2 * kPi * frequency);
    std::complex<double> phase = std::polar(1.0, 2 * kPi * frequency * v0_), sum = 0;
    for (int r = 0; r < rows_; ++r, phase *= turn) sum += window_[r] * values_[c][r] * phase;
    return sum;
  }

  double energy(int c) const {
    double sum = 0;
    for (int r = 0; r < rows_; ++r) sum += window_[r] * window_[r] * values_[c][r] * values_[c][r];
    return sum;
  }

 private:
  static constexpr int kDegree = 6;

  /// Projection onto discrete orthogonal polynomials (Gram-Schmidt), subtracted.
  static void remove_trend(std::vector<double>& column) {
    const int n = static_cast<int>(column.size());
    std::vector<std::vector<double>> basis;
    for (int degree = 0; degree <= kDegree; ++degree) {
      std::vector<double> b(n);
      for (int r = 0; r < n; ++r) b[r] = std::pow(2.0 * r / std::max(1, n - 1) - 1.0, degree);
      for (const auto& q : basis) {
        const double along = std::inner_product(b.begin(), b.end(), q.begin(), 0.0);
        for (int r = 0; r < n; ++r) b[r] -= along * q[r];
      }
      const double norm = std::sqrt(std::inner_product(b.begin(), b.end(), b.begin(), 0.0));
      if (norm < 1e-9) break;
      for (double& value : b) value /= norm;
      basis.push_back(std::move(b));
    }
    for (const auto& q : basis) {
      const double along = std::inner_product(column.begin(), column.end(), q.begin(), 0.0);
      for (int r = 0; r < n; ++r) column[r] -= along * q[r];
    }
  }

  double v0_;
  int rows_;
  std::vector<std::vector<double>> values_;
  std::vector<double> window_;
};

/// Pitch with the most energy over all columns, refined to a fraction of a pixel.
/// Returns pitch and peak over median of the spectrum.
std::pair<double, double> find_pitch(const Columns& columns, double shortest, double longest) {
  std::vector<double> total_energy;
  for (int c = 0; c < kThreadColumns; ++c)
    if (columns.usable(c)) total_energy.push_back(columns.energy(c));
  const double unit = std::max(1e-12, median(total_energy));
  const auto power = [&](double pitch) {
    double sum = 0;
    for (int c = 0; c < kThreadColumns; ++c)
      if (columns.usable(c)) sum += std::norm(columns.amplitude(c, 1 / pitch)) / unit;
    return sum;
  };
  // Steps of a quarter of the spectral resolution, even in frequency.
  std::vector<double> frequency, spectrum;
  for (double f = 1 / longest; f <= 1 / shortest; f += 0.25 / columns.rows()) {
    frequency.push_back(f);
    spectrum.push_back(power(1 / f));
  }
  if (spectrum.size() < 5) return {0, 0};
  const auto peak = std::max_element(spectrum.begin(), spectrum.end()) - spectrum.begin();
  double best = frequency[peak], step = 0.125 / columns.rows(), height = spectrum[peak];
  for (int i = 0; i < 8; ++i, step /= 2)
    for (const double f : {best - step, best + step})
      if (f > 0)
        if (const double p = power(1 / f); p > height) height = p, best = f;
  return {1 / best, height / std::max(1e-12, median(spectrum))};
}

/// Variance of the amplitudes of column c at frequencies next to `frequency`: no thread, only
/// noise.
double noise_variance(const Columns& columns, int c, double frequency, double lowest) {
  const double resolution = 2.0 / columns.rows();
  double sum = 0;
  int n = 0;
  for (const double off : {-2.2, -1.7, -1.2, 1.2, 1.7, 2.2}) {
    const double f = frequency + off * resolution;
    if (f < lowest) continue;
    sum += std::norm(columns.amplitude(c, f));
    ++n;
  }
  return sum / std::max(1, n);
}

/// How far out the thread's pattern reaches, in units of the columns' crest radius: thin fins are
/// too faint to move the silhouette's half-level edge, but their period is seen well beyond it.
double pattern_reach(const Columns& columns, double frequency, double inner_x) {
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
      const bool heard = power > 0.05 * strongest &&
                         power > 12 * noise_variance(columns, c, frequency, 0.4 * frequency);
      silent = heard ? 0 : silent + 1;
      if (heard) outermost = x;
    }
    reach = std::min(reach, outermost);  // both flanks must show it: one may be bone texture
  }
  return reach;
}

void fill_amplitudes(const Columns& columns, ThreadSignal& signal) {
  const double base = 1 / signal.pitch_px;
  for (int k = 0; k < kHarmonics; ++k) {
    std::vector<double> variance(kThreadColumns, 0.0), seen;
    for (int c = 0; c < kThreadColumns; ++c) {
      if (!columns.usable(c)) continue;
      signal.amplitude[k][c] = columns.amplitude(c, (k + 1) * base);
      variance[c] = noise_variance(columns, c, (k + 1) * base, 0.4 * base);
      seen.push_back(variance[c]);
    }
    const double floor = 0.09 * median(seen);
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

}  // namespace

std::optional<ThreadSignal> thread_signal(const Frame& frame, const ImplantShape& shape,
                                          double v_begin_px, double v_end_px) {
  if (v_end_px - v_begin_px < 24) return std::nullopt;
  const auto outline = silhouette(shape, v_begin_px, v_end_px);
  if (!outline) return std::nullopt;
  Line crest = outline->mean_radius;
  crest.at0 *= outline->crest_ratio;
  crest.slope *= outline->crest_ratio;

  // First look, wide enough for fins outside the silhouette's edge: pitch and reach of the pattern.
  constexpr double kWide = 1.4;
  const double middle = 0.5 * (v_begin_px + v_end_px);
  const double shortest = std::max(4.0, 0.12 * crest.at(middle));
  const double longest = std::min(0.95 * crest.at(middle), 0.4 * (v_end_px - v_begin_px));
  if (longest <= shortest) return std::nullopt;
  {
    const Line wide{crest.at0 * kWide, crest.slope * kWide};
    const Columns columns(frame, shape.axis, wide, v_begin_px, v_end_px);
    const double pitch_px = find_pitch(columns, shortest, longest).first;
    if (pitch_px <= 0) return std::nullopt;
    const double reach = kWide * pattern_reach(columns, 1 / pitch_px, 1 / kWide);
    const double larger = std::clamp(reach / 1.1, 1.0, 1.5);
    crest.at0 *= larger;
    crest.slope *= larger;
  }

  ThreadSignal signal;
  signal.v_begin_px = v_begin_px;
  signal.v_end_px = v_end_px;
  signal.crest_radius_px = crest.at(middle);
  signal.depth_px = crest.at(middle) - outline->root_ratio * outline->mean_radius.at(middle);

  const Columns columns(frame, shape.axis, crest, v_begin_px, v_end_px);
  std::tie(signal.pitch_px, signal.pitch_prominence) = find_pitch(columns, shortest, longest);
  if (signal.pitch_px <= 0) return std::nullopt;
  fill_amplitudes(columns, signal);
  return signal;
}

}  // namespace crestgate
