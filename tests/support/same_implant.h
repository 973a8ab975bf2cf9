// Is this detection that implant? One rule for every count of found, missed and false implants,
// about what the picture shows: an implant cut by the border is judged by the piece in view.
#pragma once
#include "pipeline/image/analysis.h"
#include "tests/support/render.h"

namespace crestgate::phantom {

/// True if, inside a picture of rows x columns, at least 40 % of what the shape claims lies on the
/// implant (so that a reading that takes the part on top with it still counts), the shape covers at
/// least 30 % of the implant, and their axes agree within 25 degrees as lines.
bool lies_on(const ImplantShape& shape, const ImplantTruth& truth, int rows, int columns);

}  // namespace crestgate::phantom
