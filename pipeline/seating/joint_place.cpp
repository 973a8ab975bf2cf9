#include "pipeline/seating/joint_place.h"

#include <algorithm>
#include <cmath>

namespace crestgate {
namespace {

constexpr double kLeastEvidence = 45.0;
constexpr double kCrownStep = 0.13, kShoulderStep = -0.1;  // relative change of width

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
  if (in.size() < 3) return std::nan("");
  const auto middle = in.begin() + static_cast<std::ptrdiff_t>(in.size() / 2);
  std::nth_element(in.begin(), middle, in.end());
  return *middle;
}

// Where the outline is half way between part and implant: the platform's rim seen edge-on, at the
// platform's own height whatever the angle.
double shoulder(const Strip& s, const std::vector<double>& w, double v, double mm) {
  const double part = median_between(s, w, v - 0.45 * mm, v - 0.2 * mm);
  const double implant = median_between(s, w, v + 0.2 * mm, v + 0.45 * mm);
  const double level = 0.5 * (part + implant);
  for (int iv = 1; iv < s.rows; ++iv) {
    if (s.v_px(iv) < v - 0.25 * mm || s.v_px(iv) > v + 0.35 * mm) continue;
    if (w[iv - 1] < level && w[iv] >= level)
      return s.v_px(iv) - s.step_v_px * (w[iv] - level) / (w[iv] - w[iv - 1]);
  }
  return v;
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

JointPlace place_joint(const Strip& strip, const JointFitInput& input) {
  const double mm = 1.0 / input.mm_per_px;
  const std::vector<double> widths = half_widths(strip, input.implant);
  const std::vector<JointEvidence> scan =
      scan_for_joint(strip, input, -2.0 * mm, 0.5 * mm, 0.06 * mm);
  struct Peak {
    double v, evidence, step;
  };
  std::vector<Peak> peaks;
  double strongest = 0.0;
  for (std::size_t i = 1; i + 1 < scan.size(); ++i) {
    const JointEvidence& e = scan[i];
    if (e.evidence < scan[i - 1].evidence || e.evidence < scan[i + 1].evidence) continue;
    if (e.evidence < kLeastEvidence || e.v_px > 0.35 * mm) continue;
    const double step = width_step(strip, widths, e.v_px, mm);
    if (step > kCrownStep) continue;
    peaks.push_back({e.v_px, e.evidence, step});
    strongest = std::max(strongest, e.evidence);
  }
  for (const Peak& p : peaks)
    if (std::abs(p.v) < 0.35 * mm && p.step < kShoulderStep)
      return {shoulder(strip, widths, p.v, mm), 0.06 * mm, true};
  for (const Peak& p : peaks)
    if (p.evidence >= 0.3 * strongest) return {p.v + 0.05 * mm, 0.12 * mm, true};
  return {0.0, 0.15 * mm, false};
}

}  // namespace crestgate
