#include "pipeline/followup/processing_change.h"

#include <algorithm>

#include "config/number_text.h"
#include "pipeline/image/site.h"

namespace crestgate {
namespace {

/// Beyond the rule with its whole uncertainty. Without an uncertainty nothing is claimed.
bool bent(const ImplantComparison& pair, const Rules& rules) {
  return pair.tone_bend && pair.tone_bend_expanded_uncertainty &&
         *pair.tone_bend - *pair.tone_bend_expanded_uncertainty > rules.follow_up.largest_tone_bend;
}

int implant_of(const Analysis& analysis, const Comparison& comparison) {
  if (!comparison.implants.empty()) return comparison.implants.front().implant;
  for (const Implant& implant : analysis.implants)
    if (!implant.possible_only) return implant.id;
  return 0;
}

class Settler {
 public:
  Settler(Analysis& analysis, Comparison& comparison, const Rules& rules)
      : analysis_(analysis), comparison_(comparison), rules_(rules) {}

  void settle() {
    bool known = false;
    for (const ImplantComparison& pair : comparison_.implants) {
      known = known || pair.tone_bend_expanded_uncertainty;
      if (bent(pair, rules_)) say_bent(pair);
    }
    if (rules_.follow_up.stated_processing)
      for (const StatedDifference& difference : comparison_.stated_processing)
        say("follow_up.stated_processing", {},
            rules_.words.get("pair.processing_stated", {{"attribute", difference.attribute},
                                                        {"now", difference.now},
                                                        {"before", difference.before}}),
            {}, {});
    comparison_.processing = changed_ ? ProcessingState::changed
                             : known  ? ProcessingState::no_change_seen
                                      : ProcessingState::not_known;
  }

 private:
  void say_bent(const ImplantComparison& pair) {
    const std::string bend =
        plus_minus({*pair.tone_bend, *pair.tone_bend_expanded_uncertainty}, 3, "");
    say("follow_up.largest_tone_bend", pair.implant,
        rules_.words.get("pair.processing_grey", {{"bend", bend}}), pair.tone_bend,
        rules_.follow_up.largest_tone_bend);
  }

  void say(const char* rule, std::optional<int> implant, const std::string& what,
           std::optional<double> value, std::optional<double> limit) {
    changed_ = true;
    const std::string words = rules_.words.get("pair.processing", {{"what", what}});
    comparison_.reasons.push_back(words);
    analysis_.reasons.push_back({rule, implant, words, value, limit, ""});
  }

  Analysis& analysis_;
  Comparison& comparison_;
  const Rules& rules_;
  bool changed_ = false;
};

}  // namespace

std::vector<StatedDifference> stated_differences(const Acquisition& now,
                                                 const Acquisition& before) {
  std::vector<StatedDifference> all;
  for (const auto& [keyword, value] : now.processing_facts)
    if (const auto other = before.processing_facts.find(keyword);
        other != before.processing_facts.end() && other->second != value)
      all.push_back({keyword, value, other->second});
  return all;
}

void settle_processing(Analysis& analysis, const Rules& rules) {
  const Comparison* newest = nullptr;
  for (Comparison& comparison : analysis.comparisons) {
    Settler(analysis, comparison, rules).settle();
    if (comparison.processing == ProcessingState::changed) newest = &comparison;
  }
  const int implant = newest ? implant_of(analysis, *newest) : 0;
  if (implant == 0) return;
  Finding finding;
  finding.kind = "processing changed";
  finding.implant = implant;
  finding.text =
      rules.words.get("finding.processing", {{"date", date_text(newest->baseline_date)}});
  analysis.findings.push_back(std::move(finding));
}

}  // namespace crestgate
