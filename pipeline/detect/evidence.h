// Is this body an implant? Independent pieces of evidence, each from what an implant is (size,
// metal, symmetry, serration or a square shoulder), weighed into a confidence.
#pragma once
#include <optional>

#include "pipeline/detect/body.h"
#include "pipeline/detect/ends.h"
#include "pipeline/image/acquisition.h"

namespace crestgate {

struct Evidence {
  double radius_px = 0.0;
  std::optional<double> diameter_mm;  ///< at the detector; empty without a spacing
  double diameter_share = 0.0;        ///< of sqrt(width x height) of the field
  double length_in_diameters = 0.0;   ///< platform (or visible end) to apex
  double level = 0.0;                 ///< metal level, 0 = dark, 1 = brightest 0.5 % of the picture
  double contrast = 0.0;              ///< against both sides, same units
  double serration = 0.0;             ///< share explained by one pitch on both flanks, 0..1
  double serration_depth = 0.0;       ///< amplitude of the better flank / radius
  bool pitches_agree = false;
  double pitches = 0.0;       ///< number of pitches in the threaded stretch
  double weaker_share = 0.0;  ///< the same for the flank that shows the pitch less
  double rim_balance = 0.0;   ///< darker rim over brighter rim, above the surroundings
  double asymmetry = 0.0;     ///< robust sd of the mid points about the axis / radius
  bool one_flank = false;     ///< the other is out of view: width and symmetry unknown
  double shoulder = 0.0;      ///< 0..1
};

Evidence gather_evidence(const Body& body, const Ends& ends, const Survey& survey,
                         const Acquisition& acquisition);

double weigh(const Evidence& evidence);  ///< confidence 0..1

}  // namespace crestgate
