#include "pipeline/judge/judge.h"

#include <algorithm>
#include <cmath>

#include "pipeline/image/advice.h"
#include "pipeline/image/site.h"
#include "pipeline/judge/advice.h"
#include "pipeline/judge/intent.h"
#include "pipeline/judge/question.h"
#include "pipeline/judge/words.h"

namespace crestgate {
namespace {

/// A statement of no rule's figure.
Reason statement(const char* rule, std::string text, std::optional<int> implant = {}) {
  return {rule, implant, std::move(text), {}, {}, ""};
}

Answer constancy_answer(const Rules& rules) {
  Answer answer;
  answer.verdict = Verdict::not_assessable;
  answer.reasons.push_back(statement("intents", rules.words.get("reason.constancy")));
  return answer;
}

Answer ask(Intent intent, const Analysis& analysis, const Implant& implant, const Rules& rules) {
  switch (intent) {
    case Intent::seating:
      return ask_seating(analysis, implant, rules);
    case Intent::placement:
      return ask_placement(analysis, implant, rules);
    case Intent::follow_up:
      return ask_follow_up(analysis, implant, rules);
    case Intent::other:
      return ask_general(analysis, rules);
    case Intent::constancy:
      break;
  }
  return constancy_answer(rules);
}

void add_reasons(Analysis& analysis, const Answer& answer) {
  // Rules on the whole image come with every implant's answer; they are listed once.
  for (const Reason& reason : answer.reasons) {
    const bool listed = std::any_of(
        analysis.reasons.begin(), analysis.reasons.end(), [&reason](const Reason& other) {
          return other.rule == reason.rule && other.implant == reason.implant &&
                 other.text == reason.text;
        });
    if (!listed) analysis.reasons.push_back(reason);
  }
}

void add_gap_finding(Analysis& analysis, const Implant& implant, const Language& text) {
  const JointMeasures& joint = implant.joint;
  if (joint.state != JointState::gap_visible) return;
  Finding finding;
  finding.kind = "gap visible";
  finding.implant = implant.id;
  const auto left = known(joint.gap_side_mm.left), right = known(joint.gap_side_mm.right);
  const bool on_left = joint.open_side.left || (left && *left > 0);
  const bool on_right = joint.open_side.right || (right && *right > 0);
  if (on_left != on_right) finding.side = on_left ? "left" : "right";
  const auto gap = known(joint.gap_mm), u = known(joint.gap_expanded_uncertainty_mm);
  const std::string size = !gap ? text.get("finding.no_size")
                           : u  ? plus_minus({*gap, *u}, 2, " mm")
                                : mm_text(*gap);
  const std::string site = site_name(analysis, implant, text);
  const std::string side = text.get(on_left ? "side.left" : "side.right");
  finding.text = finding.side.empty() ? text.get("finding.gap", {{"site", site}, {"size", size}})
                                      : text.get("finding.gap_on_side",
                                                 {{"site", site}, {"side", side}, {"size", size}});
  analysis.findings.push_back(std::move(finding));
}

// When the request does not say, the image may have been taken for either: both lines are shown.
void add_both_lines(Analysis& analysis, const Rules& rules) {
  const std::pair<Intent, const char*> questions[] = {{Intent::seating, "reason.as_seating"},
                                                      {Intent::placement, "reason.as_placement"}};
  for (const auto& [intent, key] : questions)
    for (const Implant& implant : analysis.implants) {
      if (implant.possible_only) continue;
      const Answer answer = ask(intent, analysis, implant, rules);
      const std::string verdict =
          rules.words.get(std::string("judged.") + verdict_name(answer.verdict));
      analysis.reasons.push_back(
          statement("intents", rules.words.get(key, {{"verdict", verdict}}), implant.id));
      add_reasons(analysis, answer);
    }
}

std::string type_text(const Implant& implant, const Language& text) {
  const KnownType& type = implant.known_type;
  if (type.name.empty()) return text.get("reason.type_unknown", {{"why", type.reason}});
  const std::string words = text.get(
      "reason.type",
      {{"type", type.name}, {"by", text.get("chosen." + type.chosen_by)}, {"why", type.reason}});
  const auto ratio = known(implant.projection.axial_to_transverse_scale);
  const auto u = known(implant.projection.axial_to_transverse_scale_expanded_uncertainty);
  if (!ratio || !u) return words;
  return text.get(
      *ratio < 1 ? "reason.shortened" : "reason.lengthened",
      {{"type", words}, {"amount", plus_minus({100 * std::abs(*ratio - 1), 100 * *u}, 0, " %")}});
}

// What the site's table of implant types says about this picture, and where scales contradict.
void add_known_dimensions(Analysis& analysis, const Language& text) {
  const char* rule = "implant_types";
  for (const Implant& implant : analysis.implants)
    if (!implant.known_type.reason.empty())
      analysis.reasons.push_back(statement(rule, type_text(implant, text), implant.id));
  if (!analysis.jig.empty())
    analysis.reasons.push_back(
        statement("jig", text.get("reason.jig", {{"result", text.get(analysis.jig)}})));
  if (!analysis.step_wedge.result.empty())
    analysis.reasons.push_back(
        statement("step_wedge",
                  text.get("reason.wedge", {{"result", text.get(analysis.step_wedge.result)}})));
  if (!analysis.scale_disagreement.empty())
    analysis.reasons.push_back(
        statement(rule, text.get("reason.scales", {{"what", analysis.scale_disagreement}})));
}

// A repeat beyond the site's limit is not advised, whatever it would bring.
bool withhold_repeats(Analysis& analysis, const Rules& rules, int attempt) {
  if (attempt <= rules.alerts.most_advised_repeats) return false;
  bool withheld = false;
  for (Implant& implant : analysis.implants) {
    if (implant.possible_only || implant.verdict != Verdict::repeat_if_justified) continue;
    implant.verdict = Verdict::usable_with_limits;
    withheld = true;
  }
  if (withheld)
    analysis.reasons.push_back({"alerts.most_advised_repeats",
                                {},
                                rules.words.get("reason.used_up", {{"n", std::to_string(attempt)}}),
                                static_cast<double>(attempt),
                                static_cast<double>(rules.alerts.most_advised_repeats),
                                "1"});
  return withheld;
}

// Neighbours cut off by the border are not what the image was taken for, as long as another implant
// is in view.
Verdict worst_of_judged(const Analysis& analysis, const std::vector<Answer>& answers) {
  bool any_in_view = false;
  for (std::size_t i = 0; i < answers.size(); ++i)
    any_in_view |= !analysis.implants[i].possible_only && answers[i].in_view;
  Verdict worst = Verdict::usable;
  for (std::size_t i = 0; i < answers.size(); ++i) {
    if (analysis.implants[i].possible_only || (any_in_view && !answers[i].in_view)) continue;
    worst = std::max(worst, analysis.implants[i].verdict);
  }
  return worst;
}

void judge_without_implant(Analysis& analysis, const Rules& rules) {
  Answer general = ask_general(analysis, rules);
  if (analysis.intent == Intent::constancy) {
    general = constancy_answer(rules);
  } else if (analysis.intent != Intent::other) {
    general.verdict = Verdict::not_assessable;
    general.reasons.push_back(statement("intents", rules.words.get("reason.no_implant")));
  }
  analysis.verdict = general.verdict;
  add_reasons(analysis, general);
}

}  // namespace

void judge(Analysis& analysis, const Rules& rules, const Circumstances& circumstances) {
  const IntentChoice choice = choose_intent(analysis, rules);
  analysis.intent = choice.intent;
  analysis.intent_from_rule = choice.from_rule;
  analysis.findings.clear();
  analysis.reasons.clear();
  const Language& text = rules.words;
  analysis.reasons.push_back(
      statement("intents",
                text.get(choice.from_rule ? "reason.intent_stated" : "reason.intent_inferred",
                         {{"intent", text.get(std::string("intent.") + intent_name(choice.intent))},
                          {"why", choice.text}})));

  std::vector<Answer> answers(analysis.implants.size());
  bool any_judged = false;
  for (std::size_t i = 0; i < answers.size(); ++i) {
    Implant& implant = analysis.implants[i];
    implant.verdict = Verdict::not_assessable;
    if (implant.possible_only) {
      analysis.reasons.push_back({"detection.least_confidence", implant.id,
                                  text.get("reason.possible_only"), implant.shape.confidence,
                                  rules.detection.least_confidence, "1"});
      continue;
    }
    any_judged = true;
    add_gap_finding(analysis, implant, text);
    answers[i] = ask(choice.intent, analysis, implant, rules);
    implant.verdict = answers[i].verdict;
    const auto& correct = answers[i].to_correct;
    implant.move_tube = std::find(correct.begin(), correct.end(), "angle") != correct.end();
    add_reasons(analysis, answers[i]);
  }
  if (any_judged && !choice.from_rule) add_both_lines(analysis, rules);
  add_known_dimensions(analysis, text);
  const bool withheld = withhold_repeats(analysis, rules, circumstances.attempt);

  if (any_judged)
    analysis.verdict = worst_of_judged(analysis, answers);
  else
    judge_without_implant(analysis, rules);

  AdviceInput advice;
  advice.analysis = &analysis;
  advice.attempt = circumstances.attempt;
  advice.repeats_used_up = withheld;
  for (std::size_t i = 0; i < answers.size(); ++i)
    advice.answers.push_back(analysis.implants[i].possible_only ? nullptr : &answers[i]);
  analysis.action = advised_action(advice, text);
  lead_advice_with_findings(analysis);
}

}  // namespace crestgate
