// Is this body an implant? Independent pieces of evidence, each from what an implant is: size,
// metal, symmetry, a thread with one pitch or straight turned flanks. Weighed in
// likeness.h.
#pragma once
#include <optional>

#include "pipeline/detect/body.h"
#include "pipeline/detect/ends.h"
#include "pipeline/image/acquisition.h"

namespace crestgate {

/// A period along the axis: how much of the variance it explains and over how many turns.
struct PeriodEvidence {
  double strength = 0.0;  ///< 0..1
  double weaker = 0.0;    ///< the same on the side that shows it less
  double pitches = 0.0;   ///< number of pitches in the stretch
  double pitch_px = 0.0;
};

struct Evidence {
  double radius_px = 0.0;
  std::optional<double> diameter_mm;  ///< at the detector; empty without a spacing
  double diameter_share = 0.0;        ///< of sqrt(width x height) of the field
  double length_in_diameters = 0.0;   ///< platform (or visible end) to apex
  double even_in_diameters = 0.0;     ///< the stretch of even width alone
  double level = 0.0;                 ///< metal level, 0 = dark, 1 = brightest 0.5 % of the picture
  double contrast = 0.0;              ///< against both sides, same units
  double flank_step = 0.0;            ///< grey step right at the fainter flank, same units
  double flank_share = 0.0;           ///< that step over the contrast: metal reaches to its flank
  double bed = 0.0;                   ///< level beside its apical half, 0 = darkest of the picture
  double solidity = 0.0;         ///< darkest tenth of its rows over their median, above outside
  PeriodEvidence silhouette;     ///< serration of the flanks
  double serration_depth = 0.0;  ///< amplitude of the better flank / radius
  double flank_agreement = 0.0;  ///< amplitude of the fainter flank over the better one
  /// Crests of one flank against the other's, pitches from the nearer of 0 and 1/2, where a thread
  /// has them (even and odd starts, design.md section 3); chance gives up to 1/4.
  double starts_misfit = 0.0;
  PeriodEvidence stripes;      ///< of the grey values
  double ripple = 0.0;         ///< robust sd of the less straight flank about its line / radius
  double narrowest = 1.0;      ///< width of its narrowest tenth over its diameter
  double core_over_rim = 1.0;  ///< core over the rims, above the surroundings: metal 1, a root more
  double rim_balance = 0.0;    ///< darker rim over brighter rim, above the surroundings
  double asymmetry = 0.0;      ///< robust sd of the mid points about the axis / radius
  bool one_flank = false;      ///< the other is out of view: width and symmetry unknown
  double visible_share = 1.0;  ///< of the width inside the picture
};

Evidence gather_evidence(const Body& body, const Ends& ends, const Survey& survey,
                         const Acquisition& acquisition);

}  // namespace crestgate
