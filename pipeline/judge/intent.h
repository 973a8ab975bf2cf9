// Why the image was taken: from the request by rule, else inferred from content.
#pragma once
#include "config/rules.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

struct IntentChoice {
  Intent intent = Intent::other;
  bool from_rule = false;
  std::string text;  ///< which attribute said so, or what in the picture
};

/// What a rule makes of the request's texts: the first whose text occurs in its attribute (ASCII
/// case ignored). Empty: no rule says.
std::optional<Intent> stated_intent(const Acquisition& acquisition,
                                    const std::vector<IntentRule>& rules);

/// First rule whose text occurs in its attribute (ASCII case ignored). Without one: an implant with
/// a part on its platform in view asks for seating, any other implant for placement, none for
/// nothing.
IntentChoice choose_intent(const Analysis& analysis, const Rules& rules);

}  // namespace crestgate
