#include "pipeline/detect/evidence.h"

#include <algorithm>
#include <cmath>

namespace crestgate {
namespace {

/// 0 outside [a, d], 1 inside [b, c], linear between.
double plateau(double x, double a, double b, double c, double d) {
  if (x <= a || x >= d) return 0.0;
  if (x < b) return (x - a) / (b - a);
  if (x > c) return (d - x) / (d - c);
  return 1.0;
}

double ramp(double x, double from, double to) {
  return std::clamp((x - from) / (to - from), 0.0, 1.0);
}

}  // namespace

Evidence gather_evidence(const Body& b, const Ends& ends, const Survey& survey,
                         const Acquisition& acquisition) {
  Evidence e;
  const double width = survey.field.x1 - survey.field.x0 + 1;
  const double height = survey.field.y1 - survey.field.y0 + 1;
  const double range = survey.high - survey.low;
  e.radius_px = b.radius_px;
  e.diameter_share = 2 * b.radius_px / std::sqrt(width * height);
  if (acquisition.spacing.row_mm) e.diameter_mm = 2 * b.radius_px * *acquisition.spacing.row_mm;
  e.length_in_diameters = std::fabs(ends.apex_v_px - ends.platform_v_px) / (2 * b.radius_px);
  e.level = (b.level - survey.low) / range;
  e.contrast = b.contrast / range;
  const Serration& s = b.serration;
  e.serration = s.strength;
  e.serration_depth = std::max(s.minus_amplitude, s.plus_amplitude) / b.radius_px;
  e.pitches_agree = s.pitches_agree;
  e.pitches = s.pitch > 0 ? (s.last - s.first) * b.trace.step_px / s.pitch : 0.0;
  e.weaker_share = s.weaker_share;
  std::vector<double> off, minus_rim, plus_rim, outside;
  for (int i = b.first; i <= b.last; ++i) {
    off.push_back(std::fabs(b.trace.middle(i)));
    minus_rim.push_back(b.trace.minus_rim[i]);
    plus_rim.push_back(b.trace.plus_rim[i]);
    outside.push_back(std::fmin(b.trace.minus_outside[i], b.trace.plus_outside[i]));
  }
  const double rm = median_of(minus_rim), rp = median_of(plus_rim), out = median_of(outside);
  e.rim_balance = (std::min(rm, rp) - out) / std::max(1e-9, std::max(rm, rp) - out);
  e.asymmetry = 1.48 * median_of(off) / b.radius_px;
  e.shoulder = ends.platform_score;
  e.one_flank = b.trace.lone_side != 0;
  return e;
}

double weigh(const Evidence& e) {
  const double size = e.diameter_mm ? plateau(*e.diameter_mm, 2.3, 2.9, 6.2, 7.5)
                                    : plateau(e.diameter_share, 0.07, 0.10, 0.25, 0.33);
  const double shape = plateau(e.length_in_diameters, 0.6, 0.9, 4.5, 6.5);
  const double metal = ramp(e.level, 0.2, 0.4) * ramp(e.contrast, 0.05, 0.15);
  const double even = ramp(e.rim_balance, 0.4, 0.7) * ramp(e.asymmetry, 0.25, 0.12);
  // With few pitches a strong period is met by chance: three need 0.7, ten 0.42.
  const double needed = 0.3 + 1.2 / std::max(2.0, e.pitches);
  const double thread = ramp(e.serration, needed - 0.12, needed + 0.08) *
                        ramp(e.serration_depth, 0.006, 0.02) *
                        (0.5 + 0.5 * ramp(e.weaker_share, 0.05, 0.25)) * ramp(e.pitches, 2.3, 3.0);
  if (e.one_flank) {
    // Nothing but the serration of bright metal speaks for it.
    const double clear = ramp(e.serration, needed, needed + 0.15) * ramp(e.pitches, 3.5, 4.5) *
                         ramp(e.serration_depth, 0.01, 0.025);
    return 0.8 * shape * ramp(e.level, 0.35, 0.5) * ramp(e.contrast, 0.1, 0.25) * clear;
  }
  // A smooth body: straight, even and symmetric as only a turned part is, ending in a shoulder.
  // Cast posts are narrower and longer for their width.
  const double thick =
      e.diameter_mm ? ramp(*e.diameter_mm, 3.1, 3.4) : ramp(e.diameter_share, 0.13, 0.16);
  const double centred =
      ramp(e.asymmetry, std::max(0.009, 0.6 / e.radius_px), std::max(0.004, 0.3 / e.radius_px));
  const double turned = thick * centred * ramp(e.rim_balance, 0.85, 0.94) *
                        plateau(e.length_in_diameters, 1.4, 1.7, 3.4, 3.9) *
                        ramp(e.contrast, 0.2, 0.35) * ramp(e.shoulder, 0.2, 0.5);
  // Cast posts and drill shanks pass all of this now and then: a possible implant, never a sure
  // one.
  const double smooth = std::max(0.5 * e.shoulder, turned * (0.45 + 0.1 * e.shoulder));
  return size * shape * metal * even * std::max(thread, smooth);
}

}  // namespace crestgate
