// Full-resolution view of one candidate: both silhouette edges traced along the axis, and the axis
// itself fitted to their mid points.
#pragma once
#include <vector>

#include "pipeline/detect/survey.h"
#include "pipeline/image/analysis.h"
#include "pipeline/image/strip.h"

namespace crestgate {

/// One traced flank pair. Index i is v = v0_px + i * step_px; all lengths full-resolution px.
struct FlankTrace {
  AxisFrame axis;
  double radius_px = 0.0;  ///< the radius the trace was centred on
  double v0_px = 0.0, step_px = 1.0;
  std::vector<double> minus_px, plus_px;      ///< half-level edge positions along u; NaN if lost
  std::vector<double> minus_step, plus_step;  ///< grey step across that edge, stored units
  std::vector<double> inside;                 ///< brightest of left rim, core, right rim
  std::vector<double> minus_rim, plus_rim;    ///< mean over 0.45-0.8 radius on either side
  std::vector<double> core;                   ///< mean over |u| < 0.3 radius
  std::vector<double> minus_outside, plus_outside;  ///< grey level just beyond each edge
  int size() const { return static_cast<int>(minus_px.size()); }
  double v_px(int i) const { return v0_px + i * step_px; }
  int index(double v_px) const;
  /// -1/+1: only that flank is in view; the other one's values are its mirror image about an axis
  /// laid at the assumed radius.
  int lone_side = 0;
  double half_width(int i) const { return 0.5 * (plus_px[i] - minus_px[i]); }
  double middle(int i) const {
    if (lone_side != 0) return lone_side > 0 ? plus_px[i] - radius_px : minus_px[i] + radius_px;
    return 0.5 * (plus_px[i] + minus_px[i]);
  }
};

struct Interval {
  double from = 0.0, to = -1.0;
};

/// Traces both flanks for v in [v_min_px, v_max_px] by the best edge path (dynamic programming over
/// edge strength, so a blurred or shallow stretch is bridged), then to the half level. Within
/// `known` the half width is known to be about the radius (a crown around an abutment has edges
/// too). A print's or export's frame around `field` has edges along its whole height: what lies
/// outside counts as unseen.
FlankTrace trace_flanks(const Frame& frame, const Field& field, const AxisFrame& axis,
                        double radius_px, double v_min_px, double v_max_px, double step_px,
                        Interval known = {}, int lone_side = 0);

/// The shape's silhouette from its origin to its apical end; the flank out of view is NaN.
void trace_silhouette(const Frame& frame, const Field& field, int lone_side, ImplantShape* shape);

/// Straight axis through the mid points of rows [first, last], robust against one-sided trouble;
/// the result is expressed as a frame with the same v = 0 neighbourhood and +v sense.
AxisFrame fit_axis(const FlankTrace& trace, int first, int last);

}  // namespace crestgate
