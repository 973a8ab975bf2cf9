// Grey values of a follow-up brought to those of its baseline: a monotone map learned where nothing
// changes (metal, air, teeth, bone away from the crest), by matching the distributions of the same
// area in both images. Distributions, not pixel pairs: small errors of registration and noise
// flatten a regression, but leave distributions alone. Where both images show the step wedge of the
// jig (pipeline/markers/step_wedge.h) the map is bent to pass through its steps: they are the same
// metal at both visits, whatever became of the anatomy.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "pipeline/followup/registration.h"
#include "pipeline/image/frame.h"

namespace crestgate {

struct ToneMap {
  std::vector<double> from, to;  ///< knots, both rising; straight lines between and beyond
  /// rms of mapped - baseline over the same areas, smoothed, as a share of the baseline's range.
  double rest = 0.0;
  /// Largest departure of the map from a straight line, as a share of the baseline's range: a
  /// change of processing rather than of brightness and contrast.
  double bend = 0.0;
  /// k = 2, of the bend: by leaving out parts of the area; unset where too few are left.
  std::optional<double> bend_expanded_uncertainty;
  int wedge_steps = 0;            ///< read in both images
  double wedge_correction = 0.0;  ///< largest move of the map by them, share of baseline's range
  double operator()(double grey) const;
};

struct RegisteredPair {
  const Frame& now;
  const Frame& before;
  const ImplantShape& shape_now;
  const ImplantShape& shape_before;
  const Registration& registration;
  double mm_per_px_before;
  const WedgeReading* wedge_now = nullptr;  ///< null: none
  const WedgeReading* wedge_before = nullptr;
};

/// Empty when too little of the images overlaps.
std::optional<ToneMap> match_tones(const RegisteredPair& pair);

/// `frame` with the map applied; stored range and tone are the baseline's.
Frame harmonised(const Frame& frame, const Frame& baseline, const ToneMap& map);

/// Baseline, follow-up laid on it and harmonised, and their difference around the implant; crown
/// up.
struct Subtraction {
  int implant = 0;           ///< id in the follow-up image
  std::string baseline_uid;  ///< SOP Instance UID of the earlier image
  int rows = 0, columns = 0;
  double mm_per_px = 0.0;
  int platform_row = 0;
  std::vector<float> before, now, difference;  ///< NaN outside either image
  float low = 0.0F, high = 1.0F;               ///< the baseline's stored range
};
Subtraction subtract(const RegisteredPair& pair, const Frame& harmonised_now);

}  // namespace crestgate
