#include "pipeline/seating/cross_profile.h"

#include <algorithm>
#include <cmath>

#include "pipeline/image/statistics.h"
#include "pipeline/seating/least_squares.h"

namespace crestgate {
namespace {

std::vector<double> median_row(const Strip& s, double v_from_px, double v_to_px) {
  std::vector<double> row(s.columns, std::nan("")), column;
  for (int iu = 0; iu < s.columns; ++iu) {
    column.clear();
    for (int iv = 0; iv < s.rows; ++iv) {
      const double v = s.v_px(iv);
      if (v >= v_from_px && v <= v_to_px && std::isfinite(s.at(iu, iv)))
        column.push_back(s.at(iu, iv));
    }
    if (column.size() > 2) row[iu] = median_of(column);
  }
  return row;
}

double chord(double u, double r) { return 2 * std::sqrt(std::max(0.0, r * r - u * u)); }

// Nine-point Gaussian average of a function of u.
template <class F>
double smeared(const F& f, double u, double sigma) {
  static const double kNode[] = {-2.6, -1.95, -1.3, -0.65, 0.0, 0.65, 1.3, 1.95, 2.6};
  double sum = 0.0, weight = 0.0;
  for (double node : kNode) {
    const double w = std::exp(-0.5 * node * node);
    sum += w * f(u + node * sigma);
    weight += w;
  }
  return sum / weight;
}

enum { kCentre, kRadius, kSigma, kLeft, kRight, kContrast, kCurve, kHalo, kHaloRadius, kUnknowns };

CrossProfile unpack(const std::vector<double>& p) {
  CrossProfile c;
  c.centre_px = p[kCentre];
  c.radius_px = p[kRadius];
  c.spread.sigma_px = std::clamp(std::abs(p[kSigma]), 0.3, 0.15 * c.radius_px);
  c.spread.halo = std::max(0.0, p[kHalo]);
  c.spread.halo_px = std::max(1.0, std::abs(p[kHaloRadius]));
  c.tone.background = 0.5 * (p[kLeft] + p[kRight]);
  c.tone.contrast = p[kContrast];
  c.tone.full_px = 2 * c.radius_px;
  c.tone.k = std::max(0.0, p[kCurve]) / c.tone.full_px;
  return c;
}

double modelled(const CrossProfile& c, double left, double right, double u_px) {
  const double u = u_px - c.centre_px;
  const auto grey = [&](double at) {
    const double base = at < 0 ? left : right;
    const double side = std::clamp(at / c.radius_px, -1.0, 1.0);
    const double under =
        std::abs(at) < c.radius_px ? 0.5 * (left + right) + 0.5 * (right - left) * side : base;
    return under + c.tone.grey(chord(at, c.radius_px)) - c.tone.background;
  };
  const double sharp = smeared(grey, u, c.spread.sigma_px);
  if (c.spread.halo <= 0) return sharp;
  const double soft = smeared(grey, u, std::hypot(c.spread.sigma_px, c.spread.halo_px));
  return sharp + c.spread.halo * (sharp - soft);
}

struct Sample {
  double u, grey;
};

std::vector<double> first_guess(const std::vector<Sample>& samples, double radius, double sigma) {
  std::vector<double> left, right, inside;
  for (const Sample& s : samples) {
    if (s.u < -1.12 * radius) left.push_back(s.grey);
    if (s.u > 1.12 * radius) right.push_back(s.grey);
    if (std::abs(s.u) < 0.75 * radius) inside.push_back(s.grey);
  }
  const double l = median_of(left), r = median_of(right), m = median_of(inside);
  return {0.0, radius,      std::min(sigma, 0.1 * radius), l, r, m - 0.5 * (l + r), 1.0,
          0.1, 0.1 * radius};
}

}  // namespace

double PathTone::grey(double path_px) const {
  const double x = k * full_px;
  if (x < 1e-4) return background + contrast * path_px / full_px;
  return background + contrast * (1 - std::exp(-k * path_px)) / (1 - std::exp(-x));
}

std::optional<CrossProfile> fit_cross_profile(const Strip& strip, double v_from_px, double v_to_px,
                                              double radius_hint_px, double clip_level,
                                              double sigma_hint_px) {
  const std::vector<double> row = median_row(strip, v_from_px, v_to_px);
  std::vector<Sample> samples;
  int metal = 0, clipped = 0;
  for (int iu = 0; iu < strip.columns; ++iu) {
    const double u = strip.u_px(iu);
    if (!std::isfinite(row[iu]) || std::abs(u) > 1.35 * radius_hint_px) continue;
    if (std::abs(u) < 0.9 * radius_hint_px) {
      ++metal;
      clipped += row[iu] >= clip_level;
    }
    if (std::abs(u) < 0.6 * radius_hint_px) continue;
    samples.push_back({u, row[iu]});
  }
  if (samples.size() < 20 || metal == 0) return {};
  const std::vector<double> start = first_guess(samples, radius_hint_px, sigma_hint_px);
  for (double v : start)
    if (!std::isfinite(v)) return {};
  const double contrast = start[kContrast];
  if (contrast <= 0) return {};

  const int n = static_cast<int>(samples.size());
  const double r = radius_hint_px;
  const auto residuals = [&](const std::vector<double>& p, double* out) {
    const CrossProfile c = unpack(p);
    for (int i = 0; i < n; ++i) {
      const double model = std::min(modelled(c, p[kLeft], p[kRight], samples[i].u), clip_level);
      const double e = (samples[i].grey - model) / contrast;
      // Soft limit: neighbouring teeth, bone edges and bores are not part of the model.
      out[i] = e / std::sqrt(1.0 + std::abs(e) / 0.06);
    }
    // Weak priors keep what the edge does not determine in place.
    out[n] = 0.05 * (p[kCurve] - 1.0);
    out[n + 1] = 0.04 * p[kHalo] + 2.0 * std::max(0.0, -p[kHalo]);
    out[n + 2] = 0.1 * (p[kHaloRadius] / (0.1 * r) - 1.0);
    out[n + 3] = 0.3 * std::log(std::max(0.05, std::abs(p[kSigma])) / sigma_hint_px);
  };
  const std::vector<double> step{0.01 * r,        0.01 * r,        0.01 * r, 0.02 * contrast,
                                 0.02 * contrast, 0.02 * contrast, 0.1,      0.05,
                                 0.02 * r};
  const LeastSquares fit = least_squares(residuals, n + 4, start, step, 400);
  CrossProfile c = unpack(fit.unknowns);
  c.misfit = std::sqrt(fit.sum_of_squares / n);
  c.clipped = static_cast<double>(clipped) / metal;
  if (c.tone.contrast <= 0 || c.radius_px < 0.3 * r || c.radius_px > 2.0 * r) return {};
  return c;
}

}  // namespace crestgate
