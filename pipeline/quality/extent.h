// What of an implant and its surroundings is in view, and how much of the joint's neighbourhood is
// clipped.
#pragma once
#include "pipeline/image/analysis.h"

namespace crestgate {

/// The margin runs along the axis from the apex to where nothing more is shown: the image's border,
/// a uniform frame or bar, or a cone cut (an even area at the border, unlike anything exposed).
/// `along_axis`: mm per px in that direction. Its U holds the scale's, that of the apex (2 px) and,
/// unless the scale is that of the axis itself, 5 % for the unknown ratio of axial to transverse
/// scale (beam within 15 degrees, receptor tilt within 10). Without a scale: bounds for a body 3 to
/// 5.5 mm wide (common practice). Never throws.
Extent measure_extent(const Frame& frame, const ImplantShape& shape, const Scale& along_axis,
                      bool scale_is_axial);

/// Fraction of clipped pixels within 1.3 radii across and 0.5 radii along of the platform's centre;
/// empty if the platform or most of that area is out of view.
std::optional<double> clipped_at_joint(const Frame& frame, const ImplantShape& shape);

}  // namespace crestgate
