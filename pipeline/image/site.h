// How an implant is named to a reader. Pure.
#pragma once
#include "pipeline/image/analysis.h"

namespace crestgate {

/// ISO 3950 site when header and image agree on exactly one ("36"), else empty.
std::string iso_site(const Analysis& analysis, const Implant& implant);
/// Site for readers: "36", or "no. 2" counted from image left.
std::string site_name(const Analysis& analysis, const Implant& implant, const Language& text);

}  // namespace crestgate
