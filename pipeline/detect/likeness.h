// How much a candidate looks like an implant, as learned from rendered radiographs.
#pragma once
#include "pipeline/detect/portrait.h"
#include "pipeline/detect/signs.h"

namespace crestgate {

/// Probability, 0..1.
double likeness(const Portrait& portrait, const Signs& signs);

}  // namespace crestgate
