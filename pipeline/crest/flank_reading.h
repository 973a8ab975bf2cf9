// What the picture beside one flank says of the bone's first contact, before it is judged whether
// to believe it. Private to this folder.
#pragma once
#include <optional>
#include <string>

#include "config/rules.h"
#include "pipeline/crest/edge_levels.h"
#include "pipeline/crest/onset_fit.h"
#include "pipeline/crest/platform_edge.h"

namespace crestgate {

constexpr double kStepWindowMm =
    0.2;  // grey values are averaged this far to either side of an edge

/// What is common to both flanks.
struct FlankSetting {
  PlatformEdge platform;
  double mm_per_px = 0.0, mm_per_px_u = 0.0;  ///< standard uncertainty
  double blur_px = 0.0, pitch_px = 0.0;
  double darkest = 0.0, metal = 0.0;  ///< grey values
  std::optional<double> tilt_deg;     ///< |vertical angle|, up to 40
  double tilt_u_deg = 0.0;            ///< standard uncertainty
  double half_width_mm = 0.0;         ///< b: a ridge reaches 2b to either side of the implant
};

/// Needs a scale.
FlankSetting setting_of(const Frame& frame, const ImplantShape& shape,
                        const ProjectionMeasures& projection, const QualityMeasures& quality,
                        const Scale& scale, const Rules& rules);

struct FlankReading {
  FlankStrip strip;
  Contour contour;
  ContactFit fit;
  EdgeLevels levels;
  double grey_px = 0.0;  ///< largest move of the contact under gamma 0.8 to 1.25: read_bent()
  /// Platform to contact along the axis, corrected for the ridge's tilt: of a tilted ridge the most
  /// coronal bone is seen, and the contact lies apical of it.
  double level_mm = 0.0;
  double turned_u_mm = 0.0;  ///< standard uncertainty of that for the horizontal angle
  std::string missing;       ///< key of what is not there; then the rest may be empty
};

/// side: -1 = u < 0, +1 = u > 0.
FlankReading read_flank(const Frame& frame, const ImplantShape& shape, int side,
                        const FlankSetting& setting);

/// Reads the same flank twice more, for grey_px.
void read_bent(const Frame& frame, const FlankSetting& setting, FlankReading* reading);

}  // namespace crestgate
