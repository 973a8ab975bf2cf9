// A known implant as a ruler: which entry of the site's table is in the picture, and what its
// dimensions say about millimetres per pixel, shortening and the thread's hand.
#pragma once
#include <string>

#include "config/rules.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// Entry named by the request's texts (first that matches, ASCII case ignored), else the only one
/// whose dimensions all agree with the picture within U; nullptr and a reason otherwise. An entry
/// named by the request that the picture contradicts is not used either.
struct TypeChoice {
  const ImplantType* type = nullptr;
  KnownType known;
};
TypeChoice choose_type(const std::vector<ImplantType>& types, const Acquisition& acquisition,
                       const ImplantShape& shape, const ProjectionMeasures& projection,
                       const Scale& scale, const Language& text = {});

/// axial_to_transverse_scale = (pitch px / pitch mm) / (diameter px / diameter mm), with U. For a
/// receptor tilted by phi it is cos(theta) / cos(theta - phi) (design, section 3).
void add_distortion(const ImplantType& type, const ImplantShape& shape,
                    ProjectionMeasures& projection);

/// mm per px across the axis: from the pitch and the distortion to expect at the measured angle
/// (receptor tilt unknown within 10 degrees), else from the outer diameter; empty without either.
Scale scale_across(const ImplantType& type, const ImplantShape& shape,
                   const ProjectionMeasures& projection);
/// mm per px along the axis from the pitch; empty without one.
Scale scale_along(const ImplantType& type, const ProjectionMeasures& projection);

/// Chooses between the header's scale and that of known dimensions, and tells if they disagree
/// beyond both U: then the header's is kept, with U widened to span both.
void settle_scale(Analysis& analysis, const std::vector<Scale>& from_known_dimensions,
                  const Language& text = {});

}  // namespace crestgate
