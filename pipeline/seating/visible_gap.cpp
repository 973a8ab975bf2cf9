#include "pipeline/seating/visible_gap.h"

#include <algorithm>

namespace crestgate {
namespace {

constexpr double kLargestGapMm = 1.0;  // where the model of a gap's contrast ends

double reader_limit_mm(const JointShape& closed, double theta_rad, double sigma_px, double mm) {
  JointShape at = closed;
  at.theta_rad = theta_rad;
  const auto contrast = [&](double gap_mm) {
    return mm * gap_contrast_px(at, sigma_px, gap_mm / mm);
  };
  return reach(contrast, kReaderContrastMm, kLargestGapMm);
}

}  // namespace

GapLimit visible_gap(const JointShape& closed, double worst_theta_rad, double sigma_px,
                     double gap_sd_mm, double mm_per_px) {
  GapLimit limit;
  const double noise_mm = (kFalseAlarmSd + kPowerSd) * gap_sd_mm;
  const double reader_mm = reader_limit_mm(closed, worst_theta_rad, sigma_px, mm_per_px);
  const double reader_at_0_mm = reader_limit_mm(closed, 0.0, sigma_px, mm_per_px);
  limit.butt_mm = std::max({noise_mm, reader_mm, kSmallestTestedGapMm});
  // Information about the gap goes with its contrast.
  const double gain = std::min(1.0, reader_at_0_mm / reader_mm);
  limit.butt_at_best_mm = std::max({noise_mm * gain, reader_at_0_mm, kSmallestTestedGapMm});
  limit.conical_mm = std::max(kConicalMm, limit.butt_mm);
  limit.conical_at_best_mm = std::max(kConicalMm, limit.butt_at_best_mm);
  if (limit.butt_mm <= kSmallestTestedGapMm)
    limit.bounded_by = "smallest gap ever tested";
  else if (noise_mm >= reader_mm)
    limit.bounded_by = "noise";
  else
    limit.bounded_by = reader_mm > 1.3 * reader_at_0_mm ? "angle" : "blur";
  return limit;
}

}  // namespace crestgate
