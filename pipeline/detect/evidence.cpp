#include "pipeline/detect/evidence.h"

#include <algorithm>
#include <cmath>

#include "pipeline/image/statistics.h"

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

/// Robust sd of an edge about its own straight line (Theil-Sen), px.
double ripple_px(const std::vector<double>& edge, int first, int last) {
  std::vector<double> slopes, rest;
  const int span = (last - first) / 2, stride = std::max(1, (last - first) / 60);
  for (int i = first; i + span <= last; i += stride) slopes.push_back(edge[i + span] - edge[i]);
  const double slope = span > 0 ? median_of(slopes) / span : 0.0;
  for (int i = first; i <= last; ++i) rest.push_back(edge[i] - slope * (i - first));
  const double offset = median_of(rest);
  for (double& e : rest) e = std::fabs(e - offset);
  return 1.48 * median_of(rest);
}

/// How much of the width lies inside the field, median over the body.
double visible_share(const Body& b, const Field& field) {
  int in = 0, all = 0;
  for (int i = b.first; i <= b.last; i += 4)
    for (int k = -9; k <= 9; k += 2, ++all)
      in += field.contains(b.trace.axis.to_image(0.1 * k * b.radius_px, b.trace.v_px(i)));
  return all > 0 ? static_cast<double>(in) / all : 0.0;
}

/// How far the grey value falls from the body near the flank in view towards where the picture
/// ends, in steps of that flank. A body cut by the border stays metal up to there; beside a post,
/// the tooth it stands in begins before.
double far_fall(const Frame& frame, const Body& b, const Field& field) {
  const int side = b.trace.lone_side;
  std::vector<double> falls;
  const int stride = std::max(1, (b.last - b.first) / 60);
  for (int i = b.first; i <= b.last; i += stride) {
    std::vector<double> inward;  // from the flank in view on, in tenths of a radius
    for (int k = 2; k <= 20; ++k) {
      const Point p = b.trace.axis.to_image(side * (1.0 - 0.1 * k) * b.radius_px, b.trace.v_px(i));
      if (!field.contains(p, 2.0)) break;
      inward.push_back(interpolate(frame, p));
    }
    const std::size_t n = inward.size();
    if (n < 6) continue;
    const double far = (inward[n - 1] + inward[n - 2]) / 2;
    std::nth_element(inward.begin(), inward.begin() + n * 4 / 5, inward.end());
    const double step = side > 0 ? b.trace.plus_step[i] : b.trace.minus_step[i];
    if (step > 0) falls.push_back((inward[n * 4 / 5] - far) / step);
  }
  return falls.size() < 8 ? 0.0 : median_of(falls);
}

PeriodEvidence period(const Serration& s, double step_px) {
  return {s.strength, s.weaker_share, s.pitch > 0 ? (s.last - s.first) * step_px / s.pitch : 0.0,
          s.pitch};
}

/// How far a period stands out of what chance finds, and that both sides share it: with few pitches
/// a strong period is met by chance.
double stands_out(const PeriodEvidence& p, double least_weaker, double good_weaker) {
  const double by_chance = 0.3 + 1.2 / std::max(2.0, p.pitches);
  return ramp(p.strength, by_chance - 0.12, by_chance + 0.1) *
         ramp(p.weaker, least_weaker, good_weaker);
}

/// One flank out of view: only the thread of bright metal speaks for it, and the visible part must
/// be wider than a post.
double weigh_one_flank(const Evidence& e) {
  const double wide = e.diameter_mm ? ramp(e.visible_share * *e.diameter_mm, 1.4, 1.9)
                                    : ramp(e.visible_share, 0.3, 0.45);
  const double metal = ramp(e.level, 0.35, 0.5) * ramp(e.contrast, 0.1, 0.25) *
                       ramp(e.flank_step, 0.1, 0.22) * ramp(e.solidity, 0.4, 0.7);
  const double turns = ramp(e.silhouette.pitches, 3.3, 4.5);
  const double shape = plateau(e.length_in_diameters, 0.6, 0.9, 4.5, 6.5);
  const double goes_on = ramp(e.far_fall, 0.65, 0.4);
  return 0.9 * wide * metal * turns * shape * goes_on * thread_of(e);
}

}  // namespace

double thread_of(const Evidence& e) {
  const double edges = stands_out(e.silhouette, 0.05, 0.25) * ramp(e.serration_depth, 0.004, 0.012);
  const double stripes = stands_out(e.stripes, 0.05, 0.2);
  const double ratio = e.silhouette.pitch_px > 0 ? e.stripes.pitch_px / e.silhouette.pitch_px : 0.0;
  const double agreed = std::fabs(ratio - 1.0) < 0.08 ? std::min(1.0, edges + stripes) : 0.0;
  return 0.5 * std::max(edges, stripes) + 0.5 * agreed;
}

Evidence gather_evidence(const Frame& frame, const Body& b, const Ends& ends, const Survey& survey,
                         const Acquisition& acquisition) {
  Evidence e;
  const FlankTrace& t = b.trace;
  const double width = survey.field.x1 - survey.field.x0 + 1;
  const double height = survey.field.y1 - survey.field.y0 + 1;
  const double range = survey.high - survey.low;
  e.radius_px = b.radius_px;
  e.diameter_share = 2 * b.radius_px / std::sqrt(width * height);
  if (acquisition.spacing.row_mm) e.diameter_mm = 2 * b.radius_px * *acquisition.spacing.row_mm;
  e.length_in_diameters = std::fabs(ends.apex_v_px - ends.platform_v_px) / (2 * b.radius_px);
  e.even_in_diameters = std::min(e.length_in_diameters, b.length_px() / (2 * b.radius_px));
  e.level = (b.level - survey.low) / range;
  e.contrast = b.contrast / range;
  e.silhouette = period(b.serration, t.step_px);
  e.stripes = period(b.stripes, t.step_px);
  e.serration_depth =
      std::max(b.serration.minus_amplitude, b.serration.plus_amplitude) / b.radius_px;
  std::vector<double> off, minus_rim, plus_rim, outside, step, metal;
  for (int i = b.first; i <= b.last; ++i) {
    off.push_back(std::fabs(t.middle(i)));
    minus_rim.push_back(t.minus_rim[i]);
    plus_rim.push_back(t.plus_rim[i]);
    outside.push_back(std::fmin(t.minus_outside[i], t.plus_outside[i]));
    step.push_back(std::fmin(t.minus_step[i], t.plus_step[i]));
    if (t.inside[i] == t.inside[i]) metal.push_back(t.inside[i]);
  }
  const double rm = median_of(minus_rim), rp = median_of(plus_rim), out = median_of(outside);
  e.rim_balance = (std::min(rm, rp) - out) / std::max(1e-9, std::max(rm, rp) - out);
  e.asymmetry = 1.48 * median_of(off) / b.radius_px;
  e.flank_step = median_of(step) / range;
  e.flank_share = e.flank_step / std::max(1e-9, e.contrast);
  std::vector<double> bed;
  const double half = 0.5 * (ends.platform_v_px + ends.apex_v_px);
  const int from = t.index(std::min(half, ends.apex_v_px));
  for (int i = from; i <= t.index(std::max(half, ends.apex_v_px)); ++i)
    bed.push_back(std::fmin(t.minus_outside[i], t.plus_outside[i]));
  e.bed = (median_of(bed) - survey.low) / range;
  if (!metal.empty()) {
    std::sort(metal.begin(), metal.end());
    e.solidity = (metal[metal.size() / 10] - out) / std::max(1e-9, metal[metal.size() / 2] - out);
  }
  e.ripple =
      std::max(ripple_px(t.minus_px, b.first, b.last), ripple_px(t.plus_px, b.first, b.last)) /
      b.radius_px;
  e.one_flank = t.lone_side != 0;
  if (e.one_flank) {
    e.visible_share = visible_share(b, survey.field);
    e.far_fall = far_fall(frame, b, survey.field);
  }
  return e;
}

double weigh(const Evidence& e) {
  if (e.one_flank) return weigh_one_flank(e);
  // Posts, files and drills are thinner than any implant, crowns and bridges wider.
  const double size = e.diameter_mm ? plateau(*e.diameter_mm, 2.2, 2.8, 6.0, 7.0)
                                    : plateau(e.diameter_share, 0.07, 0.11, 0.27, 0.36);
  const double metal =
      ramp(e.level, 0.2, 0.4) * ramp(e.solidity, 0.1, 0.3) * ramp(e.flank_step, 0.03, 0.1) *
      // Bright only in its core: the filling of a root, not a body that ends at the flank.
      ramp(e.flank_share, 0.15, 0.3);
  const double thread = thread_of(e);
  // Without a thread: thicker than a post, and straight as only a turned part is.
  const double thick = e.diameter_mm ? plateau(*e.diameter_mm, 2.8, 3.2, 5.6, 6.4)
                                     : plateau(e.diameter_share, 0.11, 0.15, 0.27, 0.34);
  // An implant lies in bone: an even block in the air is a step wedge, a drill's shank, a bar.
  const double body = (1.0 - thread) * thick * ramp(e.bed, 0.06, 0.15) *
                      ramp(e.even_in_diameters, 1.1, 1.6) *
                      plateau(e.length_in_diameters, 1.3, 1.9, 3.6, 4.4);
  const double straight =
      ramp(-std::log10(e.ripple > 0 ? e.ripple : 1.0), 1.45, 2.1) * ramp(e.asymmetry, 0.03, 0.01);
  const double evidence = -8.0 + 3.4 * ramp(e.flank_step, 0.08, 0.3) +
                          2.0 * ramp(e.rim_balance, 0.6, 0.95) +
                          3.3 * thread * plateau(e.length_in_diameters, 0.5, 1.0, 4.2, 6.0) +
                          3.5 * thread + 1.3 * body + 4.1 * body * straight;
  return size * metal / (1.0 + std::exp(-evidence));
}

}  // namespace crestgate
