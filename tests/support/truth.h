// Truth about each implant from the scene's geometry alone, never from pixels.
#pragma once
#include "tests/support/render.h"

namespace crestgate::phantom {

Truth truth_of(const Scene& scene);

}  // namespace crestgate::phantom
