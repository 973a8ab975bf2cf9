#include "pipeline/detect/signs.h"

#include <algorithm>
#include <cmath>

namespace crestgate {
namespace {

constexpr double kSamePitch = 0.08;  // relative
constexpr double kUnseen = 0.5;      // evidence that the flank out of view would give
/// Of a usual sensor (common practice), where no spacing says how many mm the picture's size is.
constexpr double kUsualSizeMm = 25.0;

/// 0 outside [a, d], 1 inside [b, c], linear between.
double plateau(double x, double a, double b, double c, double d) {
  if (!(x > a && x < d)) return 0.0;
  if (x < b) return (x - a) / (b - a);
  if (x > c) return (d - x) / (d - c);
  return 1.0;
}

double ramp(double x, double from, double to) {
  return x == x ? std::clamp((x - from) / (to - from), 0.0, 1.0) : 0.0;
}

double orders_below_1(double x) { return -std::log10(x + 1e-5); }

/// Over few pitches a strong period is met by chance.
double met_by_chance(const PeriodEvidence& edges) { return 1.0 / std::max(2.0, edges.pitches); }

bool same_pitch(const Evidence& e) {
  const double ratio = e.silhouette.pitch_px > 0 ? e.stripes.pitch_px / e.silhouette.pitch_px : 0.0;
  return std::fabs(ratio - 1.0) < kSamePitch;
}

}  // namespace

double thread_of(const Evidence& e) {
  const PeriodEvidence &edges = e.silhouette, &stripes = e.stripes;
  const double by_chance = met_by_chance(edges);
  const double both = same_pitch(e) ? ramp(stripes.weaker, 0.05, 0.5) : 0.0;
  const double starts = e.one_flank ? kUnseen : ramp(e.starts_misfit, 0.2, 0.05);
  const double flanks = e.one_flank ? kUnseen : ramp(e.flank_agreement, 0.1, 0.6);
  const double sum = 1.6 * ramp(edges.strength, 0.35 + by_chance, 0.65 + by_chance) +
                     2.3 * ramp(edges.weaker, 0.05, 0.7) +
                     1.0 * ramp(stripes.strength, 0.25, 0.75) + 1.3 * both +
                     3.7 * ramp(edges.pitches, 3.0, 7.0) + 1.2 * starts +
                     2.3 * ramp(e.serration_depth, 0.004, 0.02) + 1.5 * flanks;
  return sum / 14.9;
}

double allowance(const Evidence& e) {
  const double threaded = ramp(thread_of(e), 0.4, 0.6);
  if (e.one_flank)
    return threaded * (e.diameter_mm ? ramp(e.visible_share * *e.diameter_mm, 1.0, 1.4)
                                     : ramp(e.visible_share * e.diameter_share, 0.045, 0.07));
  return std::max(threaded, ramp(e.bed, 0.03, 0.1)) *
         (e.diameter_mm ? plateau(*e.diameter_mm, 2.2, 2.8, 6.0, 7.0)
                        : plateau(e.diameter_share, 0.07, 0.11, 0.27, 0.36));
}

Signs signs_of(const Evidence& e) {
  const auto sign = [](double x, double from, double to) {
    return static_cast<float>(ramp(x, from, to));
  };
  const double mm = e.diameter_mm.value_or(kUsualSizeMm * e.diameter_share);
  const PeriodEvidence &edges = e.silhouette, &stripes = e.stripes;
  return {sign(e.level, 0.35, 0.95),
          sign(e.contrast, 0.1, 0.6),
          sign(e.flank_step, 0.05, 0.5),
          sign(e.flank_share, 0.35, 0.85),
          sign(e.bed, 0.0, 0.3),
          sign(e.solidity, 0.3, 0.9),
          sign(e.core_over_rim, 0.3, 0.8),
          sign(e.core_over_rim, 1.1, 2.0),
          sign(e.rim_balance, 0.5, 1.0),
          sign(orders_below_1(e.asymmetry), 0.7, 2.5),
          sign(orders_below_1(e.ripple), 0.8, 2.3),
          sign(e.narrowest, 0.5, 1.0),
          sign(e.even_in_diameters, 0.8, 2.2),
          sign(e.length_in_diameters, 0.8, 1.8),
          sign(e.length_in_diameters, 3.8, 5.0),
          sign(mm, 2.2, 3.0),
          sign(mm, 5.5, 6.5),
          sign(edges.strength - met_by_chance(edges), 0.0, 0.65),
          sign(edges.weaker, 0.05, 0.7),
          sign(stripes.strength, 0.25, 0.75),
          same_pitch(e) ? sign(stripes.weaker, 0.05, 0.5) : 0.0F,
          sign(edges.pitches, 3.0, 7.0),
          sign(e.starts_misfit, 0.2, 0.05),
          sign(e.serration_depth, 0.004, 0.02),
          sign(e.flank_agreement, 0.1, 0.6),
          e.one_flank ? 1.0F : 0.0F,
          static_cast<float>(thread_of(e))};
}

}  // namespace crestgate
