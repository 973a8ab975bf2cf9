#include "pipeline/seating/joint_place.h"

#include <algorithm>
#include <cmath>

namespace crestgate {
namespace {

constexpr double kLeastEvidence = 30.0;
constexpr double kCrownStep = 0.13, kShoulderStep = -0.1;  // relative change of width
constexpr double kCrownBrightening = 0.1;

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

double median_of(std::vector<double> v) {
  if (v.empty()) return 0.0;
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), middle, v.end());
  return *middle;
}

double median_between(const Strip& s, const std::vector<double>& w, double from, double to) {
  std::vector<double> in;
  for (int iv = 0; iv < s.rows; ++iv)
    if (s.v_px(iv) >= from && s.v_px(iv) <= to && std::isfinite(w[iv])) in.push_back(w[iv]);
  return in.size() < 3 ? std::nan("") : median_of(std::move(in));
}

struct Peak {
  double v, evidence;
};

// Rise of the grey value from apical to coronal of v over the metal's contrast.
double brightening(const Strip& s, const CrossProfile& implant, double v, double mm) {
  std::vector<double> part, below;
  for (int iv = 0; iv < s.rows; ++iv) {
    const double at = (s.v_px(iv) - v) / mm;
    if (std::abs(at) < 0.2 || std::abs(at) > 0.45) continue;
    for (int iu = 0; iu < s.columns; ++iu)
      if (std::abs(s.u_px(iu)) < 0.8 * implant.radius_px && std::isfinite(s.at(iu, iv)))
        (at < 0 ? part : below).push_back(s.at(iu, iv));
  }
  return (median_of(part) - median_of(below)) / implant.tone.contrast;
}

// A thread's valley comes back one pitch further apical, about as strong.
bool like_thread(const std::vector<JointEvidence>& scan, const JointEvidence& at, double pitch) {
  if (pitch <= 0) return false;
  double again = 0.0;
  for (const JointEvidence& e : scan)
    if (e.v_px > at.v_px + 0.87 * pitch && e.v_px < at.v_px + 1.13 * pitch)
      again = std::max(again, e.evidence);
  return again > 0.35 * at.evidence && again < 2.8 * at.evidence;
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
      scan_for_joint(strip, input, -2.0 * mm, 1.7 * mm, 0.06 * mm);
  std::vector<Peak> peaks;
  double strongest = 0.0;
  for (std::size_t i = 1; i + 1 < scan.size(); ++i) {
    const JointEvidence& e = scan[i];
    if (e.evidence < scan[i - 1].evidence || e.evidence < scan[i + 1].evidence) continue;
    if (e.evidence < kLeastEvidence || e.v_px > 0.35 * mm) continue;
    const double step = width_step(strip, widths, e.v_px, mm);
    if (step > kCrownStep) continue;
    const bool at_platform = std::abs(e.v_px) < 0.35 * mm;
    if (step < kShoulderStep && at_platform)
      return {shoulder(strip, widths, e.v_px, mm), 0.06 * mm, true};
    if (step >= kShoulderStep && like_thread(scan, e, input.thread_pitch_px)) continue;
    if (step < 0.5 * kShoulderStep && at_platform) return {e.v_px + 0.05 * mm, 0.12 * mm, true};
    // A crown's margin makes everything coronal of it brighter.
    const double brighter = brightening(strip, input.implant, e.v_px, mm);
    const double evidence = brighter > kCrownBrightening ? 0.1 * e.evidence : e.evidence;
    peaks.push_back({e.v_px, evidence});
    strongest = std::max(strongest, evidence);
  }
  for (const Peak& p : peaks)
    if (p.evidence >= 0.3 * strongest) return {p.v + 0.05 * mm, 0.12 * mm, true};
  // Nothing marks it: coronal of the threads, where the platform's estimate stopped.
  return {-0.5 * mm, 0.1 * mm, false};
}

}  // namespace crestgate
