// Stage detect: every implant in the picture, in any in-plane orientation, or none.
#pragma once
#include <vector>

#include "pipeline/image/acquisition.h"
#include "pipeline/image/analysis.h"
#include "pipeline/image/frame.h"

namespace crestgate {

/// Sorted by the platform's x. Uncertain ones are returned with their confidence, those below 0.45 not.
std::vector<ImplantShape> detect_implants(const Frame& frame, const Acquisition& acquisition);

}  // namespace crestgate
