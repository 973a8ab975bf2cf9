#include "pipeline/detect/serration.h"

#include <algorithm>
#include <cmath>
#include <complex>

namespace crestgate {
namespace {

constexpr double kPi = 3.14159265358979323846;

std::vector<double> bridged(std::vector<double> e) {
  int last = -1;
  const int n = static_cast<int>(e.size());
  for (int i = 0; i < n; ++i) {
    if (!(e[i] == e[i])) continue;
    for (int j = last + 1; j < i; ++j)
      e[j] = last < 0 ? e[i] : e[last] + (e[i] - e[last]) * (j - last) / (i - last);
    last = i;
  }
  for (int j = last + 1; j < n; ++j) e[j] = last < 0 ? 0.0 : e[last];
  return e;
}

using Complex = std::complex<double>;

/// Hann-windowed columns of one side of a stretch; what is periodic in them is a sum of powers.
class Spectrum {
 public:
  Spectrum(const Side& columns, int from, int length) {
    const int n = length;
    double weight = 0.0;
    std::vector<double> hann(n);
    for (int i = 0; i < n; ++i) weight += hann[i] = 0.5 - 0.5 * std::cos(2 * kPi * (i + 0.5) / n);
    for (const std::vector<double>& column : columns) {
      std::vector<double> x(column.begin() + from, column.begin() + from + length);
      bound(x);
      for (int i = 0; i < n; ++i) {
        variance_ += hann[i] * x[i] * x[i] / weight;
        x[i] *= 2.0 * hann[i] / weight;
      }
      windowed_.push_back(std::move(x));
    }
  }
  double variance() const { return variance_ + 1e-12; }
  /// Variance of the sine of this period, summed over the columns.
  double power(double period) const {
    double sum = 0.0;
    for (const std::vector<double>& x : windowed_) sum += 0.5 * std::norm(component(x, period));
    return sum;
  }
  /// Of the outermost column.
  Complex outer(double period) const {
    return windowed_.empty() ? Complex() : component(windowed_.back(), period);
  }

 private:
  static Complex component(const std::vector<double>& x, double period) {
    const Complex turn = std::polar(1.0, -2 * kPi / period);
    double pr = 1.0, pi = 0.0, re = 0.0, im = 0.0;
    for (const double v : x) {
      re += v * pr, im += v * pi;
      const double next = pr * turn.real() - pi * turn.imag();
      pi = pr * turn.imag() + pi * turn.real();
      pr = next;
    }
    return {re, im};
  }
  /// Outliers (a scratch, a crossing edge) must not make the variance; thin fins are no outliers.
  static void bound(std::vector<double>& x) {
    std::vector<double> a(x.size());
    std::transform(x.begin(), x.end(), a.begin(), [](double v) { return std::fabs(v); });
    std::nth_element(a.begin(), a.begin() + a.size() * 3 / 4, a.end());
    const double limit = 3.5 * a[a.size() * 3 / 4] + 1e-9;
    for (double& v : x) v = std::clamp(v, -limit, limit);
  }
  std::vector<std::vector<double>> windowed_;
  double variance_ = 0.0;
};

/// Share of a side's variance at a period and its first overtone (crests are no sines).
double share(const Spectrum& side, double period, double least_period) {
  double power = side.power(period);
  if (0.5 * period > 0.6 * least_period) power += side.power(0.5 * period);
  return std::min(1.0, power / side.variance());
}

/// The periodogram of one stretch of both sides.
Serration in_stretch(const Side& minus, const Side& plus, int from, int length, double least_period,
                     double most_period) {
  Serration s;
  const double n = length;
  most_period = std::min(most_period, n / 3.0);
  if (length < 12 || most_period <= least_period) return s;
  const Spectrum m(minus, from, length), p(plus, from, length);
  double best = 0.0, best_m = 0.0, best_p = 0.0;
  // Frequency steps of a third of the resolution 1/n.
  for (double f = 1.0 / most_period; f <= 1.0 / least_period; f += 0.33 / n) {
    const double am = m.power(1 / f), ap = p.power(1 / f);
    if (am > best_m) best_m = am, s.minus_pitch = 1 / f;
    if (ap > best_p) best_p = ap, s.plus_pitch = 1 / f;
    if (am + ap > best) best = am + ap, s.pitch = 1 / f;
  }
  if (!(s.pitch > 0)) return s;
  const double share_m = share(m, s.pitch, least_period);
  const double share_p = share(p, s.pitch, least_period);
  s.strength = (share_m * m.variance() + share_p * p.variance()) / (m.variance() + p.variance());
  s.minus_strength = share(m, s.minus_pitch, least_period);
  s.plus_strength = share(p, s.plus_pitch, least_period);
  s.weaker_share = std::min(share_m, share_p);
  const Complex cm = m.outer(s.pitch), cp = p.outer(s.pitch);
  s.minus_amplitude = std::abs(cm);
  s.plus_amplitude = std::abs(cp);
  s.pitches_agree = s.minus_pitch > 0 && s.plus_pitch > 0 &&
                    std::fabs(1 / s.minus_pitch - 1 / s.plus_pitch) < 1.0 / n;
  const double phase = std::arg(cm * std::conj(cp)) / (2 * kPi);
  s.offset = phase - std::floor(phase);
  return s;
}

}  // namespace

std::vector<double> flank_serration(const std::vector<double>& edge_px, int window) {
  std::vector<double> e = bridged(edge_px), out(e.size());
  const int n = static_cast<int>(e.size()), h = std::max(1, window);
  for (int i = 0; i < n; ++i) {
    // Symmetric support only, so that a slope leaves nothing at the ends.
    const int reach = std::min({h, i, n - 1 - i});
    double sum = 0.0, weight = 0.0;
    for (int k = -reach; k <= reach; ++k) {
      const double w = 1.0 - std::fabs(k) / (h + 1.0);
      sum += w * e[i + k];
      weight += w;
    }
    out[i] = e[i] - sum / weight;
  }
  return out;
}

Serration find_period(const Side& minus, const Side& plus, double least_period, double most_period,
                      int least_length) {
  Serration best;
  if (minus.empty() || plus.empty()) return best;
  const int n = static_cast<int>(minus.front().size());
  if (least_period < 2.5 || most_period <= least_period || n < 12) return best;
  for (int length = n; length == n || length >= least_length; length = length * 3 / 4) {
    const int stride = std::max(1, length / 4);
    for (int a = 0; a + length <= n; a += stride) {
      Serration s = in_stretch(minus, plus, a, length, least_period, most_period);
      s.first = a;
      s.last = a + length - 1;
      if (s.pitch > 0 && s.strength > best.strength + 0.02) best = s;
    }
    if (length < 12) break;
  }
  return best;
}

Serration find_serration(const std::vector<double>& minus_edge,
                         const std::vector<double>& plus_edge, double least_period,
                         double most_period, int least_length) {
  if (minus_edge.size() < 12 || most_period < 1) return {};
  std::vector<double> m = flank_serration(minus_edge, static_cast<int>(most_period));
  std::vector<double> p = flank_serration(plus_edge, static_cast<int>(most_period));
  for (double& v : m) v = -v;  // outward positive on both flanks
  return find_period({std::move(m)}, {std::move(p)}, least_period, most_period, least_length);
}

}  // namespace crestgate
