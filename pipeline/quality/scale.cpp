#include <cmath>

#include "config/units.h"
#include "pipeline/quality/quality.h"

namespace crestgate {
namespace {

// Magnification SID/SOD of an implant some 10 mm from the receptor at 200-400 mm: 1.025-1.067
// (evidence.md section 5, computed); taken as 1.02-1.07, common practice. Uniform between the ends.
constexpr double kLeastMagnification = 1.02, kMostMagnification = 1.07;
// A stated factor holds for some plane near the object, not for the implant's own: common practice.
constexpr double kStatedFactorStandardUncertainty = 0.01;
constexpr double kSpacingStandardUncertainty =
    0.003;  // of the detector's own pitch, common practice

/// Factor from the stated spacing to the implant's plane, with relative standard uncertainty.
struct Factor {
  double value = 1.0, relative_u = 0.0;
  const char* how = "";
};

Factor uniform(double low, double high, const char* how) {
  const double middle = (low + high) / 2;
  return {middle, (high - low) / (2 * std::sqrt(3.0) * middle), how};
}

Factor from_magnification(const Acquisition& a) {
  const auto plausible = [](double m) { return m >= 1.0 && m <= 1.3; };
  if (a.magnification && plausible(*a.magnification))
    return {1 / *a.magnification, kStatedFactorStandardUncertainty, ", stated magnification"};
  if (a.source_to_detector_mm && a.source_to_patient_mm && *a.source_to_patient_mm > 0) {
    const double m = *a.source_to_detector_mm / *a.source_to_patient_mm;
    // The source-to-patient distance ends at the skin as often as at the tooth.
    if (plausible(m)) return uniform(1 / m, 1.0, ", stated distances");
  }
  return uniform(1 / kMostMagnification, 1 / kLeastMagnification, ", usual magnification assumed");
}

Factor factor_for(const Acquisition& a) {
  const std::string& source = a.spacing.source;
  if (source == "pixel-geometry")
    return {1.0, kStatedFactorStandardUncertainty, ", corrected for magnification"};
  if (source == "pixel-fiducial")
    return {1.0, kStatedFactorStandardUncertainty, ", calibrated by a fiducial"};
  // Whether this spacing is corrected cannot be told: detector's plane or the object's.
  if (source == "pixel") return uniform(1 / kMostMagnification, 1.0, ", plane not stated");
  Factor factor = from_magnification(a);
  if (source == "conflict") factor.relative_u = std::hypot(factor.relative_u, 0.1);
  return factor;
}

}  // namespace

Scale scale_from_header(const Acquisition& acquisition) {
  const Spacing& s = acquisition.spacing;
  const auto usable = [](const std::optional<double>& mm) {
    return mm && std::isfinite(*mm) && *mm > 0;
  };
  if (!usable(s.row_mm) || !usable(s.column_mm)) return {};
  const Factor factor = factor_for(acquisition);
  const double mean_mm = std::sqrt(*s.row_mm * *s.column_mm);
  // One number for both directions: half their difference is a bound on what that costs.
  const double anisotropy = std::abs(*s.row_mm - *s.column_mm) / 2 / mean_mm / std::sqrt(3.0);
  const double relative =
      std::hypot(std::hypot(factor.relative_u, kSpacingStandardUncertainty), anisotropy);
  Scale scale;
  scale.mm_per_px = Quantity{mean_mm * factor.value, 2 * relative * mean_mm * factor.value};
  scale.source = s.source + factor.how;
  if (anisotropy > 0.003) scale.source += ", rows and columns differ";
  return scale;
}

}  // namespace crestgate
