// Which standard words (CID 7011 = CID 6135 for these) say why an image falls short.
#pragma once
#include <vector>

#include "node/report/codes.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// Positioning, motion blur, under or over exposed, other failure: from the rules not met and from
/// what bounds the joint; each once, in that order; empty if every rule is met.
std::vector<const CodedConcept*> quality_codes(const Analysis& analysis);

}  // namespace crestgate
