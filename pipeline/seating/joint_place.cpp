#include "pipeline/seating/joint_place.h"

#include <algorithm>
#include <cmath>

#include "pipeline/image/statistics.h"

namespace crestgate {
namespace {

constexpr double kLeastStep = 0.06;  // relative change of width that marks a height

// First crossing of the level from inside outwards; NaN if metal reaches the strip's border.
double edge_from(const Strip& s, int iv, double centre, int side, double start, double level) {
  double before = std::nan("");
  for (double u = start;; u += s.step_u_px) {
    const int iu = static_cast<int>(std::lround((centre + side * u - s.u0_px) / s.step_u_px));
    if (iu < 0 || iu >= s.columns) return std::nan("");
    const double grey = s.at(iu, iv);
    if (!std::isfinite(grey)) return std::nan("");
    if (grey < level) {
      if (!std::isfinite(before)) return std::nan("");
      const double f = before > grey ? (before - level) / (before - grey) : 0.0;
      return u - s.step_u_px + f * s.step_u_px;
    }
    before = grey;
  }
}

double median_between(const Strip& s, const std::vector<double>& w, double from, double to) {
  std::vector<double> in;
  for (int iv = 0; iv < s.rows; ++iv)
    if (s.v_px(iv) >= from && s.v_px(iv) <= to && std::isfinite(w[iv])) in.push_back(w[iv]);
  return in.size() < 3 ? std::nan("") : median_of(std::move(in));
}

}  // namespace

std::vector<double> half_widths(const Strip& strip, const CrossProfile& implant) {
  std::vector<double> widths(strip.rows, std::nan(""));
  const double level = implant.tone.background + 0.4 * implant.tone.contrast;
  for (int iv = 0; iv < strip.rows; ++iv) {
    const double start = 0.3 * implant.radius_px;
    const double left = edge_from(strip, iv, implant.centre_px, -1, start, level);
    const double right = edge_from(strip, iv, implant.centre_px, 1, start, level);
    widths[iv] = 0.5 * (left + right);
  }
  return widths;
}

double width_step(const Strip& strip, const std::vector<double>& w, double v, double mm) {
  const double part = median_between(strip, w, v - 0.4 * mm, v - 0.12 * mm);
  const double implant = median_between(strip, w, v + 0.12 * mm, v + 0.4 * mm);
  if (!std::isfinite(part) || !std::isfinite(implant)) return 0.0;
  return part / implant - 1.0;
}

double refine_joint(const Strip& s, const CrossProfile& implant, double sd_px, double mm_per_px) {
  const double mm = 1.0 / mm_per_px;
  const std::vector<double> w = half_widths(s, implant);
  if (std::abs(width_step(s, w, 0.0, mm)) < kLeastStep) return 0.0;
  const double part = median_between(s, w, -0.45 * mm, -0.2 * mm);
  const double body = median_between(s, w, 0.2 * mm, 0.45 * mm);
  const double level = 0.5 * (part + body), reach = std::max(2.5 * sd_px, 0.12 * mm);
  double nearest = 0.0;
  bool found = false;
  for (int iv = 1; iv < s.rows; ++iv) {
    if (!std::isfinite(w[iv - 1]) || !std::isfinite(w[iv])) continue;
    if (std::abs(s.v_px(iv)) > reach || (w[iv - 1] < level) == (w[iv] < level)) continue;
    const double v = s.v_px(iv) - s.step_v_px * (w[iv] - level) / (w[iv] - w[iv - 1]);
    if (!found || std::abs(v) < std::abs(nearest)) nearest = v;
    found = true;
  }
  return nearest;
}

}  // namespace crestgate
