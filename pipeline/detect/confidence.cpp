#include "pipeline/detect/confidence.h"

#include <algorithm>
#include <cmath>

namespace crestgate {
namespace {

constexpr double kSamePitch = 0.08;  // relative
constexpr double kUnseen = 0.5;      // evidence that the flank out of view would give

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

double logistic(double x) { return 1.0 / (1.0 + std::exp(-x)); }

double threaded(const Evidence& e) {
  const double rims = e.one_flank ? kUnseen : ramp(e.rim_balance, 0.5, 0.9);
  // Finer than any thread's: the raster of a straight edge, or the ragged border of a filling.
  const double deep = ramp(e.serration_depth, 0.008, 0.014);
  return deep * logistic(-16.8 + 14.8 * thread_of(e) + 2.9 * ramp(e.flank_share, 0.35, 0.65) +
                         1.4 * rims + 3.2 * ramp(e.level, 0.35, 0.7));
}

/// Without a thread: thicker than a post all along, and straight as only a turned part is. It lies
/// in bone: an even block in the air is a step wedge, a drill's shank, a bar.
double smooth(const Evidence& e) {
  const double thick = e.diameter_mm
                           ? plateau(e.narrowest * *e.diameter_mm, 2.3, 3.0, 5.6, 6.4)
                           : plateau(e.narrowest * e.diameter_share, 0.09, 0.13, 0.27, 0.34);
  if (thick <= 0.0) return 0.0;
  const double straightness = e.ripple > 0 ? -std::log10(e.ripple) : 0.0;
  return logistic(-24.65 + 2.35 * ramp(e.rim_balance, 0.8, 0.97) + 2.8 * ramp(e.level, 0.5, 0.9) +
                  2.85 * ramp(e.flank_step, 0.1, 0.3) + 2.6 * ramp(straightness, 1.3, 2.2) +
                  2.55 * ramp(e.asymmetry, 0.02, 0.003) +
                  4.5 * ramp(e.even_in_diameters, 0.8, 2.0) +
                  1.35 * plateau(e.length_in_diameters, 1.0, 1.8, 3.8, 4.8) + 4.8 * thick +
                  1.7 * ramp(e.bed, 0.06, 0.2) + 2.0 * ramp(e.core_over_rim, 1.3, 1.1));
}

/// One flank out of view: the part in view must be wider than half a post, and metal up to the
/// border.
double weigh_one_flank(const Evidence& e) {
  const double wide = e.diameter_mm ? ramp(e.visible_share * *e.diameter_mm, 1.0, 1.4)
                                    : ramp(e.visible_share * e.diameter_share, 0.045, 0.07);
  return wide * ramp(e.far_fall, 0.6, 0.3) * ramp(e.solidity, 0.3, 0.5) *
         plateau(e.length_in_diameters, 0.5, 0.8, 4.5, 6.5) * threaded(e);
}

}  // namespace

double thread_of(const Evidence& e) {
  const PeriodEvidence &edges = e.silhouette, &stripes = e.stripes;
  const double by_chance = 1.0 / std::max(2.0, edges.pitches);  // few pitches: a strong one is met
  const double ratio = edges.pitch_px > 0 ? stripes.pitch_px / edges.pitch_px : 0.0;
  const double both = std::fabs(ratio - 1.0) < kSamePitch ? ramp(stripes.weaker, 0.05, 0.5) : 0.0;
  const double starts = e.one_flank ? kUnseen : ramp(e.starts_misfit, 0.2, 0.05);
  const double flanks = e.one_flank ? kUnseen : ramp(e.flank_agreement, 0.1, 0.6);
  const double sum = 1.6 * ramp(edges.strength, 0.35 + by_chance, 0.65 + by_chance) +
                     2.3 * ramp(edges.weaker, 0.05, 0.7) +
                     1.0 * ramp(stripes.strength, 0.25, 0.75) + 1.3 * both +
                     3.7 * ramp(edges.pitches, 3.0, 7.0) + 1.2 * starts +
                     2.3 * ramp(e.serration_depth, 0.004, 0.02) + 1.5 * flanks;
  return sum / 14.9;
}

double weigh(const Evidence& e) {
  if (e.one_flank) return weigh_one_flank(e);
  // Posts, files and drills are thinner than any implant, crowns and bridges wider.
  const double size = e.diameter_mm ? plateau(*e.diameter_mm, 2.2, 2.8, 6.0, 7.0)
                                    : plateau(e.diameter_share, 0.07, 0.11, 0.27, 0.36);
  return std::max(size * threaded(e), smooth(e));
}

}  // namespace crestgate
