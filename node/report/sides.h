// Image left and right in the words of the mouth: mesial and distal, where the header tells the
// tooth (ISO 3950) and how the image lies (Patient Orientation, PS3.3 C.7.6.1.1.1). Pure.
#pragma once
#include <optional>
#include <string>

#include "config/language.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// True if the image's left side of this implant is the mesial one. Mesial is towards the front for
/// premolars and molars, towards the midline for incisors and canines; empty where the orientation
/// does not name that direction or the implant's tooth is not known.
std::optional<bool> mesial_is_left(const Analysis& analysis, const Implant& implant);

/// "mesial" or "image left": where room is scarce.
LeftRight<std::string> short_side_names(const Analysis& analysis, const Implant& implant,
                                        const Language& text);

/// "mesial (left)" or "image left".
LeftRight<std::string> side_names(const Analysis& analysis, const Implant& implant,
                                  const Language& text);

}  // namespace crestgate
