// Where bone begins, to a fraction of a pixel, and where its edge meets the flank line. Private to
// this folder.
//
// Model of one column: grey = a + k v + A q(v - onset; s), q a blurred onset. A ray's way through
// a rounded ridge is a chord: it begins like a square root and is full after `s` (a quarter
// ellipse; s = 0: a step). That makes the onset, not the half level, the edge of the bone.
#pragma once
#include <optional>

#include "pipeline/crest/contour.h"

namespace crestgate {

struct ContactFit {
  double v_px = 0.0;         ///< bone edge continued to the flank line
  double sd_px = 0.0;        ///< standard uncertainty of that
  double slope = 0.0;        ///< px along the axis per px outward, at the flank
  double rounding_px = 0.0;  ///< s of the model: way along the axis over which bone becomes full
  double unevenness = 0.0;   ///< grey sd of the bone just apical of the edge, over its step
};

std::optional<ContactFit> fit_contact(const FlankStrip& strip, const Contour& contour,
                                      double blur_sigma_px, double px_per_mm);

}  // namespace crestgate
