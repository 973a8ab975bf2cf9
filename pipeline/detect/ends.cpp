#include "pipeline/detect/ends.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "pipeline/detect/shoulder.h"
#include "pipeline/image/statistics.h"

namespace crestgate {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

double mean_of(const std::vector<double>& x, int a, int b) {
  double sum = 0.0;
  int n = 0;
  for (int i = std::max(0, a); i <= std::min(static_cast<int>(x.size()) - 1, b); ++i)
    if (x[i] == x[i]) sum += x[i], ++n;
  return n > 0 ? sum / n : kNan;
}

/// Mean of the flanks that say something.
double of_flanks(double minus, double plus) {
  if (minus != minus) return plus;
  return plus != plus ? minus : 0.5 * (minus + plus);
}

/// Evidence that smaller v is coronal (positive) or larger v (negative).
double low_is_coronal(const Body& b, Jaw jaw) {
  const FlankTrace& t = b.trace;
  const double r = b.radius_px;
  double score = 0.0;
  // Metal that goes on beyond the body is the mounted part.
  const int first = b.serration.strength > 0.5 ? b.serration.first : b.first;
  const int last = b.serration.strength > 0.5 ? b.serration.last : b.last;
  const double low = (t.v_px(first) - b.low.tip_v_px) / r;
  const double high = (b.high.tip_v_px - t.v_px(last)) / r;
  // Where it leaves the field, or the trace, it goes on for at least what is in view.
  double longer = low - high;
  if (b.high.at_border) longer = std::min(longer, 0.0);
  if (b.low.at_border) longer = std::max(longer, 0.0);
  score += std::clamp(0.6 * longer, -1.0, 1.0);
  // Air or soft tissue around the coronal part, bone around the apical one.
  const int a = b.low.row, z = b.high.row, third = std::max(1, (z - a) / 3);
  const double darker_low =
      of_flanks(mean_of(t.minus_outside, z - third, z) - mean_of(t.minus_outside, a, a + third),
                mean_of(t.plus_outside, z - third, z) - mean_of(t.plus_outside, a, a + third)) /
      b.contrast;
  if (darker_low == darker_low) score += std::clamp(2.5 * darker_low, -1.0, 1.0);
  // Bodies taper towards the apex.
  const int third_body = std::max(1, (last - first) / 3);
  const auto taper_of = [&](const std::vector<double>& edge) {
    std::vector<double> at_low, at_high;
    for (int i = 0; i <= third_body; ++i) {
      at_low.push_back(std::fabs(edge[first + i]));
      at_high.push_back(std::fabs(edge[last - i]));
    }
    return (median_of(at_low) - median_of(at_high)) / r;
  };
  const double taper = of_flanks(taper_of(t.minus_px), taper_of(t.plus_px));
  if (taper == taper) score += std::clamp(4.0 * taper, -0.5, 0.5);
  if (jaw != Jaw::unknown && std::fabs(t.axis.apical.y) > 0.8) {
    const bool low_is_up = t.axis.apical.y > 0;
    score += (low_is_up == (jaw == Jaw::mandible)) ? 0.3 : -0.3;
  }
  return score;
}

}  // namespace

Ends find_ends(const Body& b, Jaw jaw) {
  Ends e;
  const double score = low_is_coronal(b, jaw);
  e.coronal_sense = score >= 0 ? -1 : 1;
  e.coronal_score = std::fabs(score);
  const MetalEnd& coronal = e.coronal_sense < 0 ? b.low : b.high;
  const MetalEnd& apical = e.coronal_sense < 0 ? b.high : b.low;
  e.apex_v_px = apical.tip_v_px;
  e.apex_in_view = !apical.at_border;
  e.platform_v_px = coronal.tip_v_px;
  e.platform_in_view = !coronal.at_border;
  e.platform_score = coronal.at_border ? 0.0 : 0.7;

  if (const auto shoulder = find_shoulder(b, e.coronal_sense)) {
    e.platform_v_px = shoulder->v_px;
    e.platform_in_view = true;
    e.platform_score = shoulder->score;
    e.part_mounted = true;
  }
  return e;
}

}  // namespace crestgate
