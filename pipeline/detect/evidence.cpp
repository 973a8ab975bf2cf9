#include "pipeline/detect/evidence.h"

#include <algorithm>
#include <cmath>

#include "pipeline/image/statistics.h"

namespace crestgate {
namespace {

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

PeriodEvidence period(const Serration& s, double step_px) {
  return {s.strength, s.weaker_share, s.pitch > 0 ? (s.last - s.first) * step_px / s.pitch : 0.0,
          s.pitch};
}

}  // namespace

Evidence gather_evidence(const Body& b, const Ends& ends, const Survey& survey,
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
  const auto [fainter, better] =
      std::minmax(b.serration.minus_amplitude, b.serration.plus_amplitude);
  e.flank_agreement = better > 0 ? fainter / better : 0.0;
  const double offset = std::fabs(b.serration.offset - 0.5);  // 0 odd starts, 1/2 even
  e.starts_misfit = std::min(offset, 0.5 - offset);
  std::vector<double> off, minus_rim, plus_rim, core, outside, step, metal, half_width;
  for (int i = b.first; i <= b.last; ++i) {
    off.push_back(std::fabs(t.middle(i)));
    minus_rim.push_back(t.minus_rim[i]);
    plus_rim.push_back(t.plus_rim[i]);
    core.push_back(t.core[i]);
    if (t.half_width(i) == t.half_width(i)) half_width.push_back(t.half_width(i));
    outside.push_back(std::fmin(t.minus_outside[i], t.plus_outside[i]));
    step.push_back(std::fmin(t.minus_step[i], t.plus_step[i]));
    if (t.inside[i] == t.inside[i]) metal.push_back(t.inside[i]);
  }
  const double rm = median_of(minus_rim), rp = median_of(plus_rim), out = median_of(outside);
  e.rim_balance = (std::min(rm, rp) - out) / std::max(1e-9, std::max(rm, rp) - out);
  e.core_over_rim = (median_of(core) - out) / std::max(1e-9, 0.5 * (rm + rp) - out);
  if (!half_width.empty()) {
    std::nth_element(half_width.begin(), half_width.begin() + half_width.size() / 10,
                     half_width.end());
    e.narrowest = half_width[half_width.size() / 10] / b.radius_px;
  }
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
  if (e.one_flank) e.visible_share = visible_share(b, survey.field);
  return e;
}

}  // namespace crestgate
