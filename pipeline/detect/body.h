// One candidate, worked out: the stretch of even width (the body), the metal around it, its
// serration, and where the metal ends or leaves the field.
#pragma once
#include "pipeline/detect/flank.h"
#include "pipeline/detect/serration.h"
#include "pipeline/detect/stripes.h"
#include "pipeline/detect/survey.h"

namespace crestgate {

/// One end of the metal along the axis.
struct MetalEnd {
  int row = 0;             ///< last row of the trace with metal
  bool at_border = false;  ///< leaves the exposed field there
  double tip_v_px = 0.0;   ///< half-level position along the axis
};

struct Body {
  FlankTrace trace;         ///< along the fitted axis
  int first = 0, last = 0;  ///< rows of even width
  double radius_px = 0.0;   ///< median half width of these rows, crest envelope
  double contrast = 0.0;    ///< metal minus surroundings over these rows, stored units
  double level = 0.0;       ///< metal grey level, stored units
  Serration serration;      ///< of the silhouette; periods in px
  Serration stripes;        ///< of the grey values; periods in px
  MetalEnd low, high;       ///< towards smaller and larger v
  double length_px() const { return trace.v_px(last) - trace.v_px(first); }
};

/// Refines axis and radius from a seed (an axis through the body, rows within +-half_length of its
/// origin) and traces far enough to both sides to see what is mounted. An empty trace = no body.
Body work_out_body(const Frame& frame, const Field& field, const AxisFrame& seed, double radius_px,
                   double half_length_px, double samples_per_radius, int lone_side = 0);

/// The same body with axis, radius and serration from the rows between v_from and v_to only (what
/// lies between platform and apex, once these are known, or a half). An empty trace = no body.
Body refit_body(const Frame& frame, const Field& field, const Body& body, double v_from_px,
                double v_to_px, double samples_per_radius);

}  // namespace crestgate
