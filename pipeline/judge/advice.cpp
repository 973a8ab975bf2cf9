#include "pipeline/judge/advice.h"

#include <algorithm>
#include <cmath>

#include "pipeline/image/site.h"
#include "pipeline/judge/words.h"

namespace crestgate {
namespace {

bool corrects(const Answer& answer, const char* what) {
  return std::find(answer.to_correct.begin(), answer.to_correct.end(), what) !=
         answer.to_correct.end();
}

// Left/right and therefore the sign turn round in a mirrored read-out; a left-handed thread does
// the same. Said once, and only where a direction is given.
std::string with_caveat(const std::string& move, const Implant& implant,
                        const Acquisition& acquisition, const Language& text) {
  if (implant.projection.basis == "markers") return move;  // balls have no hand, depth no mirror
  const bool mirror = acquisition.mirrored_possible, hand = !implant.shape.left_handed;
  if (!mirror && !hand) return move;
  return text.get(!hand     ? "move.unless_mirrored"
                  : !mirror ? "move.unless_left_handed"
                            : "move.unless_either",
                  {{"move", move}});
}

std::string with_gain(const std::string& action, const Implant& implant, const Language& text) {
  const auto now = known(implant.joint.smallest_visible_gap_mm);
  const auto best = known(implant.joint.smallest_visible_gap_at_best_mm);
  if (!now || !best) return action;
  return text.get("advice.with_gain",
                  {{"action", action}, {"best", gap_text(*best)}, {"now", gap_text(*now)}});
}

std::string corrections(const Implant& implant, const Answer& answer, const Acquisition& acq,
                        const Language& text) {
  std::string words;
  const auto add = [&words](const std::string& part) {
    words += (words.empty() ? "" : ", ") + part;
  };
  if (corrects(answer, "angle")) {
    const std::string move = movement_text(implant.projection, acq.jaw, text);
    const auto angle = known(implant.projection.vertical_angle_deg);
    const bool directed = implant.projection.direction_resolved && angle && angle->value != 0;
    add(directed ? with_caveat(move, implant, acq, text) : move);
  }
  if (corrects(answer, "motion") || corrects(answer, "blur")) add(text.get("advice.keep_still"));
  if (corrects(answer, "exposure") || corrects(answer, "noise") || corrects(answer, "clipping"))
    add(text.get("advice.correct_exposure"));
  return words;
}

// The implant that needs the largest correction speaks: one exposure has one direction.
std::string repeat_text(const AdviceInput& in, const Language& text) {
  const Analysis& a = *in.analysis;
  int chosen = -1;
  double largest = -1;
  for (std::size_t i = 0; i < a.implants.size(); ++i) {
    if (!in.answers[i] || a.implants[i].verdict != Verdict::repeat_if_justified) continue;
    const auto angle = known(a.implants[i].projection.vertical_angle_deg);
    const double size = angle ? std::abs(angle->value) : 0.0;
    if (size <= largest) continue;
    largest = size;
    chosen = static_cast<int>(i);
  }
  if (chosen < 0) return {};
  const Implant& implant = a.implants[static_cast<std::size_t>(chosen)];
  std::string how =
      corrections(implant, *in.answers[static_cast<std::size_t>(chosen)], a.acquisition, text);
  if (a.implants.size() > 1)
    how = text.get("advice.of_implant", {{"site", site_name(a, implant, text)}, {"action", how}});
  return with_gain(text.get("advice.repeat", {{"n", std::to_string(in.attempt)}, {"action", how}}),
                   implant, text);
}

std::string limits_text(const AdviceInput& in, const Language& text) {
  const Analysis& a = *in.analysis;
  if (in.repeats_used_up) return text.get("advice.used_up", {{"n", std::to_string(in.attempt)}});
  for (const Answer* answer : in.answers)
    if (answer && !answer->bound_by.empty() && answer->verdict != Verdict::usable)
      return text.get("advice.bounded", {{"cause", text.get("bound." + answer->bound_by)}});
  switch (a.verdict) {
    case Verdict::not_assessable:
      for (const Answer* answer : in.answers)
        if (answer && !answer->in_view) return text.get("advice.cut_off");
      return text.get("advice.not_answered");
    case Verdict::usable_with_limits:
      return text.get("advice.with_limits");
    default:
      break;
  }
  return text.get(a.intent == Intent::other ? "advice.no_implant" : "advice.no_reason");
}

}  // namespace

std::string movement_text(const ProjectionMeasures& projection, Jaw jaw, const Language& text) {
  const auto angle = known(projection.vertical_angle_deg);
  if (!angle) return text.get("move.angle_unknown");
  const std::string amount = amount_text(*angle, text);
  if (!projection.direction_resolved || angle->value == 0)
    return text.get("move.no_direction", {{"amount", amount}});
  const bool source_coronal = angle->value > 0;
  if (jaw == Jaw::unknown)
    return text.get(source_coronal ? "move.rootwards" : "move.crownwards", {{"amount", amount}});
  // The crown end is up in the mandible and down in the maxilla.
  const bool source_too_high = (jaw == Jaw::mandible) == source_coronal;
  return text.get(source_too_high ? "move.lower" : "move.raise", {{"amount", amount}});
}

std::string advised_action(const AdviceInput& input, const Language& text) {
  const std::string repeat = repeat_text(input, text);
  return repeat.empty() ? limits_text(input, text) : repeat;
}

}  // namespace crestgate
