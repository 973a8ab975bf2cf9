// Stage measure, image quality: clipping, noise, blur at the metal's edges, and scale.
#pragma once
#include <vector>

#include "pipeline/image/acquisition.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

QualityMeasures measure_quality(const Frame& frame, const std::vector<ImplantShape>& implants);

/// mm per pixel in the implant's plane from the header's spacing and distances, with provenance.
Scale scale_from_header(const Acquisition& acquisition);

}  // namespace crestgate
