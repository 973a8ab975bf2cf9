// Stage measure, platform: where along the axis the implant ends and a mounted part begins. Runs
// after projection and before joint and crest, which both count from here.
#pragma once
#include "pipeline/image/analysis.h"

namespace crestgate {

/// What stands on the platform, by its width just coronal of it.
enum class Above { unknown, nothing, narrower, flush, wider };

/// From this share on rival places are left out of the standard uncertainty. Of 196 places with
/// more 1 was over 0.3 mm off, of 20 with one of 0.8 to 0.9 1, of 13 with 0.55 to 0.8 4
/// (joints 2800000-2800249, which the weights were not learned from).
constexpr double kSureShare = 0.9;

/// Share of the posterior that may lie at neither the fix nor a rival.
constexpr double kLeftOut = 0.05;

struct PlatformFix {
  double v_px = 0.0;   ///< from the shape's origin along its axis, apical positive
  double sd_px = 0.0;  ///< standard uncertainty: the posterior's spread within 0.4 mm, and all of
                       ///< it where `share` is below kSureShare
  double share = 0.0;  ///< posterior probability within 0.2 mm of v_px
  double evidence = 0.0;  ///< ln of the odds that it is at one of the heights rated
  bool marked = false;    ///< that share is large: something in the image marks the place
  Above above = Above::unknown;
  /// Other places that hold with v_px all but kLeftOut of the posterior; empty if there are none,
  /// or too many to go through.
  std::vector<double> rivals_px;
};

/// Posterior over heights from 5.5 mm coronal to 4.5 mm apical of the detected platform. Every
/// height is rated by its and its neighbours' cues of cues.h (rim edge, dark joint line, silhouette
/// notches and steps, end of the thread, bore and channel, the body's width, the implant's length)
/// with learned weights (rating.h); the posterior is the soft maximum of these ratings. A scale is
/// not needed: without one the body is taken to be 4.1 mm wide.
PlatformFix locate_platform(const Frame& frame, const ImplantShape& shape,
                            const ProjectionMeasures& projection, const Scale& scale);

/// Moves the shape's origin to the fix: length follows, the silhouette is traced again from there.
/// Sets platform_sd_px, platform_marked and rival_platforms_px.
void settle_platform(const Frame& frame, const PlatformFix& fix, ImplantShape* shape);

}  // namespace crestgate
