// Stage measure, image quality: clipping, noise, blur at the metal's edges, and scale.
#pragma once
#include <vector>

#include "pipeline/image/acquisition.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// Clipped fractions leave out padding and uniform frames or bars at the border. Noise is that of
/// stored values anywhere in the image over the contrast of metal and what is beside it. Blur is
/// the Gaussian sigma of the sharpest tenth of the metal edges, processing halo and flank shape
/// fitted along; empty without usable edges. Never throws; any frame, also empty ones.
QualityMeasures measure_quality(const Frame& frame, const std::vector<ImplantShape>& implants);

/// mm per pixel in the implant's plane from the header's spacing and distances, with provenance.
Scale scale_from_header(const Acquisition& acquisition);

}  // namespace crestgate
