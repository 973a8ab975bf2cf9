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

/// Hann-windowed amplitude at one period.
std::complex<double> component(const std::vector<double>& x, double period) {
  std::complex<double> sum = 0.0;
  double weight = 0.0;
  const int n = static_cast<int>(x.size());
  const std::complex<double> turn = std::polar(1.0, -2 * kPi / period);
  std::complex<double> phasor = 1.0;
  for (int i = 0; i < n; ++i, phasor *= turn) {
    const double w = 0.5 - 0.5 * std::cos(2 * kPi * (i + 0.5) / n);
    sum += w * x[i] * phasor;
    weight += w;
  }
  return 2.0 * sum / weight;
}

double variance(const std::vector<double>& x) {
  double sum = 0.0, weight = 0.0;
  const int n = static_cast<int>(x.size());
  for (int i = 0; i < n; ++i) {
    const double w = 0.5 - 0.5 * std::cos(2 * kPi * (i + 0.5) / n);
    sum += w * x[i] * x[i];
    weight += w;
  }
  return weight > 0 ? sum / weight : 0.0;
}

/// Outliers (a scratch, a crossing edge) must not make the variance.
void bound(std::vector<double>& x) {
  std::vector<double> a(x.size());
  std::transform(x.begin(), x.end(), a.begin(), [](double v) { return std::fabs(v); });
  std::nth_element(a.begin(), a.begin() + a.size() * 3 / 4, a.end());
  const double limit = 2.5 * a[a.size() * 3 / 4] + 1e-9;
  for (double& v : x) v = std::clamp(v, -limit, limit);
}

/// The periodogram of one stretch of both (detrended, outward positive) flanks.
Serration in_stretch(std::vector<double> m, std::vector<double> p, double least_period,
                     double most_period) {
  Serration s;
  const double n = static_cast<double>(m.size());
  most_period = std::min(most_period, n / 3.0);
  if (n < 12 || most_period <= least_period) return s;
  bound(m);
  bound(p);
  const double vm = variance(m) + 1e-12, vp = variance(p) + 1e-12;
  double best = 0.0, best_m = 0.0, best_p = 0.0;
  // Frequency steps of a third of the resolution 1/n.
  for (double f = 1.0 / most_period; f <= 1.0 / least_period; f += 0.33 / n) {
    const double am = 0.5 * std::norm(component(m, 1 / f));
    const double ap = 0.5 * std::norm(component(p, 1 / f));
    if (am > best_m) best_m = am, s.minus_pitch = 1 / f;
    if (ap > best_p) best_p = ap, s.plus_pitch = 1 / f;
    if (am + ap > best) best = am + ap, s.pitch = 1 / f;
  }
  if (!(s.pitch > 0)) return s;
  s.strength = std::min(1.0, best / (vm + vp));
  s.minus_strength = std::min(1.0, best_m / vm);
  s.plus_strength = std::min(1.0, best_p / vp);
  const std::complex<double> cm = component(m, s.pitch), cp = component(p, s.pitch);
  s.weaker_share = std::min({1.0, 0.5 * std::norm(cm) / vm, 0.5 * std::norm(cp) / vp});
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

Serration find_serration(const std::vector<double>& minus_edge,
                         const std::vector<double>& plus_edge, double least_period,
                         double most_period, int least_length) {
  Serration best;
  const int n = static_cast<int>(minus_edge.size());
  if (least_period < 2.5 || most_period <= least_period || n < 12) return best;
  std::vector<double> m = flank_serration(minus_edge, static_cast<int>(most_period));
  std::vector<double> p = flank_serration(plus_edge, static_cast<int>(most_period));
  for (double& v : m) v = -v;  // outward positive on both flanks
  for (int length = n; length == n || length >= least_length; length = length * 3 / 4) {
    const int stride = std::max(1, length / 4);
    for (int a = 0; a + length <= n; a += stride) {
      Serration s = in_stretch({m.begin() + a, m.begin() + a + length},
                               {p.begin() + a, p.begin() + a + length}, least_period, most_period);
      s.first = a;
      s.last = a + length - 1;
      if (s.pitch > 0 && s.strength > best.strength + 0.02) best = s;
    }
    if (length < 12) break;
  }
  return best;
}

}  // namespace crestgate
