#include "pipeline/judge/intent.h"

#include "config/lower_case.h"

namespace crestgate {
namespace {

const IntentRule* first_match(const Acquisition& acquisition,
                              const std::vector<IntentRule>& rules) {
  for (const IntentRule& rule : rules) {
    const auto found = acquisition.reason_texts.find(rule.attribute);
    if (found == acquisition.reason_texts.end()) continue;
    if (lower_case(found->second).find(lower_case(rule.contains)) != std::string::npos)
      return &rule;
  }
  return nullptr;
}

}  // namespace

std::optional<Intent> stated_intent(const Acquisition& acquisition,
                                    const std::vector<IntentRule>& rules) {
  const IntentRule* rule = first_match(acquisition, rules);
  return rule ? std::optional<Intent>(rule->intent) : std::nullopt;
}

IntentChoice choose_intent(const Analysis& analysis, const Rules& rules) {
  if (const IntentRule* rule = first_match(analysis.acquisition, rules.intents))
    return {rule->intent, true,
            rules.words.get("reason.holds",
                            {{"attribute", rule->attribute}, {"text", rule->contains}})};
  bool implant = false;
  for (const Implant& i : analysis.implants) {
    if (i.possible_only) continue;
    implant = true;
    if (i.joint.part_present && i.shape.platform_in_view)
      return {Intent::seating, false, rules.words.get("reason.part_in_view")};
  }
  if (implant) return {Intent::placement, false, rules.words.get("reason.no_part_seen")};
  return {Intent::other, false, rules.words.get("reason.no_implant_found")};
}

}  // namespace crestgate
