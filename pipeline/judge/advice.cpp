#include "pipeline/judge/advice.h"

#include <algorithm>
#include <cmath>

#include "pipeline/judge/words.h"

namespace crestgate {
namespace {

bool corrects(const Answer& answer, const char* what) {
  return std::find(answer.to_correct.begin(), answer.to_correct.end(), what) !=
         answer.to_correct.end();
}

// Left/right and therefore the sign turn round in a mirrored read-out; a left-handed thread does
// the same. Said once, and only where a direction is given.
std::string direction_caveat(const Implant& implant, const Acquisition& acquisition) {
  if (implant.projection.basis == "markers") return {};  // balls have no hand, depth no mirror
  const bool mirror = acquisition.mirrored_possible, hand = !implant.shape.left_handed;
  if (!mirror && !hand) return {};
  return std::string(" (the other way round if ") + (mirror ? "the image is mirrored" : "") +
         (mirror && hand ? " or the thread left-handed)"
          : hand         ? "the thread is left-handed)"
                         : ")");
}

std::string expected_gain(const Implant& implant) {
  const auto now = known(implant.joint.smallest_visible_gap_mm);
  const auto best = known(implant.joint.smallest_visible_gap_at_best_mm);
  if (!now || !best) return {};
  return ", expected smallest visible gap " + mm_text(*best) + " instead of " + mm_text(*now);
}

std::string corrections(const Implant& implant, const Answer& answer, const Acquisition& acq) {
  std::string text;
  const auto add = [&text](const std::string& part) { text += (text.empty() ? "" : ", ") + part; };
  if (corrects(answer, "angle")) {
    std::string move = movement_text(implant.projection, acq.jaw);
    const auto angle = known(implant.projection.vertical_angle_deg);
    if (implant.projection.direction_resolved && angle && angle->value != 0)
      move += direction_caveat(implant, acq);
    add(move);
  }
  if (corrects(answer, "motion") || corrects(answer, "blur")) add("keep tube and patient still");
  if (corrects(answer, "exposure") || corrects(answer, "noise") || corrects(answer, "clipping"))
    add("correct the exposure");
  return text;
}

std::string implant_name(const Analysis& analysis, const Implant& implant) {
  return analysis.implants.size() > 1 ? "implant " + std::to_string(implant.id) + ": " : "";
}

// The implant that needs the largest correction speaks: one exposure has one direction.
std::string repeat_text(const AdviceInput& in) {
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
  const std::string how =
      corrections(implant, *in.answers[static_cast<std::size_t>(chosen)], a.acquisition);
  return "repeat if justified (this was exposure " + std::to_string(in.attempt) +
         "): " + implant_name(a, implant) + how + expected_gain(implant);
}

std::string limits_text(const AdviceInput& in) {
  const Analysis& a = *in.analysis;
  if (in.repeats_used_up)
    return "exposure " + std::to_string(in.attempt) +
           " of this site: no further repeat is advised, judge clinically";
  for (const Answer* answer : in.answers)
    if (answer && !answer->bound_by.empty() && answer->verdict != Verdict::usable)
      return "another exposure of this kind will not show it (bounded by " + answer->bound_by +
             "): check by other means";
  switch (a.verdict) {
    case Verdict::not_assessable:
      for (const Answer* answer : in.answers)
        if (answer && !answer->in_view)
          return "what this image was taken for is cut off: see the reasons, check by other means";
      return "this image does not answer the question: see the reasons, check by other means";
    case Verdict::usable_with_limits:
      return "usable within the limits named in the reasons";
    default:
      break;
  }
  return a.intent == Intent::other ? "no implant judged" : "no reason for a repeat found";
}

std::string finding_text(const Analysis& analysis) {
  std::string text;
  for (const Finding& finding : analysis.findings)
    text += (text.empty() ? "" : "; ") + finding.text;
  return text;
}

}  // namespace

std::string movement_text(const ProjectionMeasures& projection, Jaw jaw) {
  const auto angle = known(projection.vertical_angle_deg);
  if (!angle) return "beam angle not known";
  const std::string amount = amount_text(*angle);
  if (!projection.direction_resolved || angle->value == 0)
    return "the beam is " + amount +
           " off perpendicular, direction not resolved: compare the tube with the holder's ring "
           "and the implant's axis before moving it";
  const bool source_coronal = angle->value > 0;
  if (jaw == Jaw::unknown)
    return std::string("move the tube head towards the ") +
           (source_coronal ? "root end" : "crown end") + " and turn the beam " + amount +
           " to follow";
  // The crown end is up in the mandible and down in the maxilla.
  const bool source_too_high = (jaw == Jaw::mandible) == source_coronal;
  return source_too_high ? "lower the tube head and aim it " + amount + " more towards the ceiling"
                         : "raise the tube head and aim it " + amount + " more towards the floor";
}

std::string advice_line(const AdviceInput& input) {
  const std::string finding = finding_text(*input.analysis);
  std::string action = repeat_text(input);
  if (action.empty()) action = limits_text(input);
  std::string line = finding.empty() ? action : finding + "; " + action;
  for (char& c : line)
    if (c == '\n' || c == '\r') c = ' ';
  if (!line.empty() && line[0] >= 'a' && line[0] <= 'z') line[0] = static_cast<char>(line[0] - 32);
  return line + ".";
}

}  // namespace crestgate
