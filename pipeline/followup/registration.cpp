#include "pipeline/followup/registration.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace crestgate {
namespace {

constexpr double kLeastLikeness = 0.6;
constexpr double kShiftMm = 0.45;      // platforms found apart by at most this
constexpr double kPlatformSdMm = 0.1;  // and usually by about this
constexpr double kScaleRange = 0.06;
constexpr double kDependentMm = 0.1;  // neighbouring outline points err together this far
constexpr double kModelMm = 0.01;     // threads seen under another angle, measured

/// An outline without its slow part: the threads.
struct Outline {
  std::vector<double> full, threads;  ///< outward positive, px; NaN if lost
};

Outline outline(const std::vector<double>& edge_px, int side, int period) {
  Outline o;
  const int n = static_cast<int>(edge_px.size());
  for (const double e : edge_px) o.full.push_back(side * e);
  o.threads.assign(o.full.size(), std::nan(""));
  for (int i = period; i + period < n; ++i) {
    double sum = 0.0;
    for (int k = i - period; k <= i + period; ++k) sum += o.full[static_cast<std::size_t>(k)];
    o.threads[static_cast<std::size_t>(i)] =
        o.full[static_cast<std::size_t>(i)] - sum / (2 * period + 1);
  }
  return o;
}

double at(const std::vector<double>& x, double v) {
  if (!(v >= 0) || v >= static_cast<double>(x.size()) - 1) return std::nan("");
  const auto i = static_cast<std::size_t>(v);
  const double f = v - static_cast<double>(i);
  return x[i] * (1 - f) + x[i + 1] * f;
}

class Threads {
 public:
  Threads(const Implant& now, const Implant& before, double mm_now, double mm_before)
      : ratio_(mm_before / mm_now), mm_now_(mm_now) {
    const double p_now = now.projection.thread_pitch_px.value_or(0.7 / mm_now);
    const double p_before = before.projection.thread_pitch_px.value_or(p_now / ratio_);
    const auto half = [](double pitch) { return std::max(2, static_cast<int>(0.5 * pitch)); };
    for (int s = 0; s < 2; ++s) {
      now_[s] =
          outline(s ? now.shape.plus_edge_px : now.shape.minus_edge_px, s ? 1 : -1, half(p_now));
      before_[s] = outline(s ? before.shape.plus_edge_px : before.shape.minus_edge_px, s ? 1 : -1,
                           half(p_before));
    }
  }

  /// Correlation over both flanks, each with its own strength.
  double likeness(double scale, double v0) const {
    double like = 0.0, weight = 0.0;
    for (int s = 0; s < 2; ++s) {
      double ab = 0, aa = 0, bb = 0;
      int n = 0;
      for (std::size_t i = 0; i < before_[s].threads.size(); ++i) {
        const double b = before_[s].threads[i];
        const double a = at(now_[s].threads, v0 + scale * static_cast<double>(i));
        if (!std::isfinite(a) || !std::isfinite(b)) continue;
        ab += a * b, aa += a * a, bb += b * b, ++n;
      }
      if (n < 20 || !(aa > 0) || !(bb > 0)) continue;
      const double w = std::sqrt(aa * bb);
      like += w * ab / std::sqrt(aa * bb);
      weight += w;
    }
    return weight > 0 ? like / weight : 0.0;
  }

  double score(double scale, double v0) const {
    const double off = v0 * mm_now_ / kPlatformSdMm;
    return likeness(scale, v0) - 0.01 * off * off;
  }

  /// Standard uncertainties of shift and scale by least squares, neighbours not independent.
  void uncertainty(Registration& r) const {
    double jj = 0, jv = 0, vv = 0, rest = 0;
    int n = 0;
    for (int s = 0; s < 2; ++s) {
      double ab = 0, aa = 0;
      for (std::size_t i = 0; i < before_[s].threads.size(); ++i) {
        const double a = at(now_[s].threads, r.v0_px + r.scale_v * static_cast<double>(i));
        const double b = before_[s].threads[i];
        if (std::isfinite(a) && std::isfinite(b)) ab += a * b, aa += b * b;
      }
      const double g = aa > 0 ? ab / aa : 0.0;
      for (std::size_t i = 1; i + 1 < before_[s].threads.size(); ++i) {
        const double v = r.v0_px + r.scale_v * static_cast<double>(i);
        const double a = at(now_[s].threads, v), b = before_[s].threads[i];
        const double slope = 0.5 * (at(now_[s].threads, v + 1) - at(now_[s].threads, v - 1));
        if (!std::isfinite(a) || !std::isfinite(b) || !std::isfinite(slope)) continue;
        const double along = static_cast<double>(i);
        jj += slope * slope, jv += slope * slope * along, vv += slope * slope * along * along;
        rest += (a - g * b) * (a - g * b), ++n;
      }
    }
    const double det = jj * vv - jv * jv;
    if (n < 20 || !(det > 0)) return;
    const double dependent = std::max(1.0, kDependentMm / mm_now_);
    const double variance = dependent * rest / n;
    r.v_sd_px = std::hypot(std::sqrt(variance * vv / det), kModelMm / mm_now_);
    r.scale_v_sd = std::sqrt(variance * jj / det);
  }

  /// Sideways place, scale and tilt from the full outlines, and what is left.
  void across(Registration& r) const {
    // u'(side) = u0 + side * scale_u * e + tilt v for points of either outline: 3 unknowns.
    double m[3][4] = {};
    const auto rows = [&](auto&& use) {
      for (int s = 0; s < 2; ++s)
        for (std::size_t i = 0; i < before_[s].full.size(); ++i) {
          const double v = static_cast<double>(i), sign = s ? 1.0 : -1.0;
          const double a = sign * at(now_[s].full, r.v0_px + r.scale_v * v);
          const double b = sign * before_[s].full[i];
          if (std::isfinite(a) && std::isfinite(b)) use(a, b, v);
        }
    };
    rows([&](double a, double b, double v) {
      const double x[3] = {1.0, b, v};
      for (int i = 0; i < 3; ++i) {
        for (int k = 0; k < 3; ++k) m[i][k] += x[i] * x[k];
        m[i][3] += x[i] * a;
      }
    });
    for (int i = 0; i < 3; ++i) {
      if (!(std::abs(m[i][i]) > 1e-9)) return;
      for (int k = 0; k < 3; ++k) {
        if (k == i) continue;
        const double f = m[k][i] / m[i][i];
        for (int j = 0; j < 4; ++j) m[k][j] -= f * m[i][j];
      }
    }
    r.u0_px = m[0][3] / m[0][0], r.scale_u = m[1][3] / m[1][1], r.tilt = m[2][3] / m[2][2];
    std::vector<double> off;
    rows([&](double a, double b, double v) {
      off.push_back(std::abs(a - r.u0_px - r.scale_u * b - r.tilt * v));
    });
    std::sort(off.begin(), off.end());
    // The worst tenth are ends and parts of crowns.
    double sum = 0.0;
    const std::size_t n = off.size() * 9 / 10;
    for (std::size_t i = 0; i < n; ++i) sum += off[i] * off[i];
    r.rest_px = n > 0 ? std::sqrt(sum / static_cast<double>(n)) : 0.0;
  }

  double ratio() const { return ratio_; }
  double middle_px() const { return 0.5 * static_cast<double>(before_[0].full.size()); }

 private:
  std::array<Outline, 2> now_, before_;
  double ratio_, mm_now_;
};

/// Coarse grid, then pattern search to a thousandth of a pixel.
void find_place(const Threads& threads, double scale0, double mm_now, Registration& r) {
  double best = -2.0;
  const double reach = kShiftMm / mm_now, step = std::max(0.5, 0.03 / mm_now);
  for (double scale = scale0 * (1 - kScaleRange); scale <= scale0 * (1 + kScaleRange);
       scale += 0.003 * scale0)
    for (double v0 = -reach; v0 <= reach; v0 += step)
      if (const double s = threads.score(scale, v0); s > best) {
        best = s;
        r.scale_v = scale, r.v0_px = v0;
      }
  // Where platforms usually are found chose the turn of the thread; from here on threads alone.
  best = threads.likeness(r.scale_v, r.v0_px);
  double ds = 0.0015 * scale0, dv = 0.5 * step;
  while (dv > 1e-3) {
    const Registration from = r;
    for (const double a : {-1.0, 0.0, 1.0})
      for (const double b : {-1.0, 0.0, 1.0}) {
        // About the middle, where place and scale do not depend on each other.
        const double scale = from.scale_v + a * ds;
        const double v0 = from.v0_px + b * dv - a * ds * threads.middle_px();
        if (const double s = threads.likeness(scale, v0); s > best) {
          best = s;
          r.scale_v = scale, r.v0_px = v0;
        }
      }
    if (r.scale_v == from.scale_v && r.v0_px == from.v0_px) ds *= 0.5, dv *= 0.5;
  }
}

}  // namespace

Registration register_implants(const Implant& now, const Implant& before, double mm_per_px_now,
                               double mm_per_px_before) {
  const Threads threads(now, before, mm_per_px_now, mm_per_px_before);
  Registration r;
  const bool both = now.shape.radius_px > 0 && before.shape.radius_px > 0;
  const double scale0 = both ? now.shape.radius_px / before.shape.radius_px : threads.ratio();
  find_place(threads, scale0, mm_per_px_now, r);
  r.likeness = threads.likeness(r.scale_v, r.v0_px);
  r.by_threads = r.likeness >= kLeastLikeness;
  if (r.by_threads) {
    threads.uncertainty(r);
  } else {
    r.scale_v = scale0, r.v0_px = 0.0;
    const double sd_before = before.shape.platform_sd_px.value_or(0.05 / mm_per_px_before);
    r.v_sd_px =
        std::hypot(now.shape.platform_sd_px.value_or(0.05 / mm_per_px_now), scale0 * sd_before);
    r.scale_v_sd = 0.02;
  }
  threads.across(r);
  return r;
}

}  // namespace crestgate
