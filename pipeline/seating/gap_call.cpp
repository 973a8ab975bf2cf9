#include "pipeline/seating/gap_call.h"

#include <algorithm>
#include <cmath>

#include "pipeline/seating/visible_gap.h"

namespace crestgate {
namespace {

/// -2 log L an open joint must gain over a closed one with bevels: for a doubt (four standard
/// deviations), and for a gap to be called (five).
constexpr double kDoubtImprovement = 16.0, kGapImprovement = 25.0;
/// And what it must gain inside the flank (three standard deviations): a gap is a band across the
/// metal, bevels are notches at its edge.
constexpr double kGainInside = 9.0;
/// A gap below the stated limit is not called visible: a reader would not be sure of it. From this
/// share of the limit on it is not called closed either, for sizes come out up to a quarter low.
constexpr double kTraceShare = 0.7;

/// What an imperfect model of an edge looks like beside the joint, as if it were a gap: the edge's
/// misfit over four blur widths, and, where the radius steps, a quarter of the blur times the
/// relative change of path.
double structure_sd_mm(const JointFitInput& in) {
  const double sigma_mm = in.spread.sigma_px * in.mm_per_px;
  const double u = 0.8 * std::min(in.part.radius_px, in.implant.radius_px);
  const auto chord = [u](double r) { return std::sqrt(std::max(0.0, r * r - u * u)); };
  const double part = chord(in.part.radius_px), implant = chord(in.implant.radius_px);
  const double step = std::abs(part - implant) / std::min(part, implant);
  return sigma_mm * std::hypot(4.0 * std::max(in.implant.misfit, in.part.misfit), 0.25 * step);
}

Side side_of(double gap_px, double sd_px, double gain_inside, double structure_mm,
             double mm_per_px) {
  return {gap_px * mm_per_px, std::hypot(sd_px * mm_per_px, structure_mm), gain_inside};
}

}  // namespace

Sides sides_of(const JointFit& fit, const JointFitInput& in) {
  const double structure_mm = structure_sd_mm(in);
  Side minus = side_of(fit.shape.gap_minus_px, fit.gap_minus_sd_px, fit.inside_minus, structure_mm,
                       in.mm_per_px);
  Side plus = side_of(fit.shape.gap_plus_px, fit.gap_plus_sd_px, fit.inside_plus, structure_mm,
                      in.mm_per_px);
  // Parts cannot overlap: a negative gap is the model's own error at this joint, on either side, as
  // far as it is more than the noise already counted.
  const Side& overlapping = minus.gap_mm < plus.gap_mm ? minus : plus;
  const double overlap_mm = std::max(0.0, -overlapping.gap_mm);
  const double excess2 =
      std::max(0.0, overlap_mm * overlap_mm - overlapping.sd_mm * overlapping.sd_mm);
  for (Side* side : {&minus, &plus}) side->sd_mm = std::sqrt(side->sd_mm * side->sd_mm + excess2);
  return {minus, plus};
}

void call_gap(const JointFit& fit, double limit_mm, bool certain, Side* side) {
  side->trace = fit.improvement > kDoubtImprovement &&
                side->gap_mm > std::max(kTraceShare * limit_mm, kFalseAlarmSd * side->sd_mm);
  side->open = side->trace && (certain || fit.closed_over_open > kDoubtRatio) &&
               fit.improvement > kGapImprovement && side->gain_inside > kGainInside &&
               side->gap_mm > limit_mm;
  side->unexplained = side->trace && !side->open && side->gap_mm > limit_mm;
}

}  // namespace crestgate
