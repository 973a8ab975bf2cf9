#include "pipeline/seating/joint_model.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace crestgate {
namespace {

constexpr int kDepthSteps = 16;

// Normal distribution function by table: the model's inner loop.
double normal_share(double x) {
  constexpr double kReach = 4.5;
  constexpr int kSize = 1024;
  static const std::array<double, kSize + 1> table = [] {
    std::array<double, kSize + 1> t{};
    for (int i = 0; i <= kSize; ++i) {
      const double at = -kReach + 2 * kReach * i / kSize;
      t[i] = 0.5 * std::erfc(-at / std::sqrt(2.0));
    }
    return t;
  }();
  if (x <= -kReach) return 0.0;
  if (x >= kReach) return 1.0;
  const double f = (x + kReach) / (2 * kReach) * kSize;
  const int i = std::min(static_cast<int>(f), kSize - 1);
  return table[i] + (f - i) * (table[i + 1] - table[i]);
}

struct Missing {
  double from, to;  ///< axial stretch without metal at one depth
};

Missing missing_at(const JointShape& s, double gap, double rho) {
  const double inf = std::numeric_limits<double>::infinity();
  if (rho < s.core_radius_px) return {0.0, 0.0};
  Missing m{0.0, gap};
  if (rho > s.implant_radius_px)
    m.from = -inf;
  else
    m.from = -std::max(0.0, rho - (s.implant_radius_px - s.implant_bevel_px));
  if (rho > s.part_radius_px)
    m.to = inf;
  else
    m.to += std::max(0.0, rho - (s.part_radius_px - s.part_bevel_px));
  return m;
}

double share_present(const Missing& m, double z, const Spread& p) {
  const auto lost = [&](double sigma) {
    return normal_share((z - m.from) / sigma) - normal_share((z - m.to) / sigma);
  };
  const double sharp = lost(p.sigma_px);
  if (p.halo <= 0) return 1.0 - sharp;
  return 1.0 - sharp - p.halo * (sharp - lost(std::hypot(p.sigma_px, p.halo_px)));
}

}  // namespace

double joint_path_px(const JointShape& s, const Spread& spread, double u, double v) {
  const double outer = std::max(s.implant_radius_px, s.part_radius_px);
  if (std::abs(u) >= outer) return 0.0;
  const double half = std::sqrt(outer * outer - u * u), dy = 2 * half / kDepthSteps;
  const double reference = std::max(1.0, s.outer_radius_px());
  const double gap = 0.5 * (s.gap_minus_px + s.gap_plus_px) +
                     0.5 * (s.gap_plus_px - s.gap_minus_px) * u / reference;
  const double slope = std::tan(s.theta_rad);
  // A depth step moves the ray by `dy tan(theta)` along z: smear by that much (uniform, sd =
  // width / sqrt 12), so that few steps are enough.
  Spread p = spread;
  p.sigma_px = std::hypot(spread.sigma_px, dy * slope / std::sqrt(12.0));
  double path = 0.0;
  for (int i = 0; i < kDepthSteps; ++i) {
    const double y = -half + (i + 0.5) * dy;
    const Missing m = missing_at(s, gap, std::sqrt(u * u + y * y));
    if (m.from == m.to) {
      path += dy;
      continue;
    }
    path += dy * share_present(m, s.joint_px - v + y * slope, p);
  }
  return path / std::cos(s.theta_rad);
}

double gap_contrast_px(const JointShape& closed, double sigma_px, double gap_px) {
  JointShape open = closed;
  open.gap_minus_px = open.gap_plus_px = gap_px;
  open.implant_bevel_px = open.part_bevel_px = 0.0;
  open.implant_radius_px = open.part_radius_px = closed.outer_radius_px();
  const Spread spread{sigma_px, 0.0, 1.0};
  const double r = open.outer_radius_px(), reach_v = r * std::tan(closed.theta_rad);
  double best = 0.0;
  for (double x = 0.55; x <= 0.951; x += 0.08) {
    const double full = 2 * r * std::sqrt(1 - x * x) / std::cos(closed.theta_rad);
    for (int k = 0; k <= 8; ++k) {
      const double v = closed.joint_px - 0.5 * gap_px + reach_v * k / 8.0;
      best = std::max(best, full - joint_path_px(open, spread, x * r, v));
    }
  }
  return best;
}

}  // namespace crestgate
