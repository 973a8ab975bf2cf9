#include "pipeline/judge/question.h"

#include <algorithm>
#include <cmath>
#include <string>

#include "pipeline/judge/checks.h"
#include "pipeline/judge/words.h"

namespace crestgate {
namespace {

// Motion and exposure are what a repeat can change; blur of detector and focal spot is not.
void check_sharpness_and_exposure(const Analysis& analysis, const Implant* implant,
                                  const Rules& rules, Answer& answer) {
  const bool motion = analysis.quality.motion_direction_deg.has_value();
  if (check_blur(analysis, rules, answer) == Outcome::over) {
    worsen(answer, Verdict::usable_with_limits);
    if (motion)
      answer.to_correct.push_back("motion");
    else
      answer.bound_by = "blur";
  }
  const Outcome noise = check_noise(analysis, rules, answer);
  const Outcome clipping = check_clipping(analysis, implant, rules, answer);
  if (noise == Outcome::over || clipping == Outcome::over) {
    worsen(answer, Verdict::usable_with_limits);
    answer.to_correct.push_back("exposure");
  }
}

bool platform_cut(const Implant& implant, const char* rule, const Language& text, Answer& answer) {
  if (implant.shape.platform_in_view) return false;
  answer.in_view = false;
  answer.verdict = Verdict::not_assessable;
  state(answer, rule, &implant, text.get("why.platform_not_in_view"));
  return true;
}

// design.md section 2: a repeat only if angle 0 and corrected motion and exposure, all else
// unchanged, would bring the image under the rule. Call only where the angle is known.
void settle_repeat(bool would_hold, bool something_shows, Answer& answer) {
  if (answer.to_correct.empty()) return;
  if (would_hold)
    answer.verdict = Verdict::repeat_if_justified;
  else
    answer.verdict = something_shows ? Verdict::usable_with_limits : Verdict::not_assessable;
}

void weigh_repeat(const Implant& implant, const Rules& rules, Outcome gap, Answer& answer) {
  const JointMeasures& joint = implant.joint;
  const auto at_best = known(joint.smallest_visible_gap_at_best_mm);
  const bool best_holds = at_best && *at_best <= rules.seating.largest_hidden_gap_mm;
  // Each measure can hold its own rule and all together hide the joint: the model names what
  // counts.
  if (gap == Outcome::over && best_holds && answer.to_correct.empty())
    answer.to_correct.push_back(joint.bounded_by.empty() ? "angle" : joint.bounded_by);
  if (gap == Outcome::over && !best_holds) answer.bound_by = joint.bounded_by;
  if (at_best && !best_holds)
    state(answer, "seating.largest_hidden_gap_mm", &implant,
          rules.words.get("reason.at_best", {{"gap", gap_text(*at_best)}}));
  // Without the joint's model the angle's own rule decides; with it, the model does.
  settle_repeat(at_best ? best_holds : gap == Outcome::unknown, gap != Outcome::unknown, answer);
}

// Connection unknown, and the rule lies between what a butt joint and what a cone would have shown:
// this image cannot answer, nor can another of its kind.
bool design_decides(const Implant& implant, const Rules& rules, Answer& answer) {
  const JointMeasures& joint = implant.joint;
  const auto butt = known(joint.smallest_visible_gap_butt_mm);
  const auto cone = known(joint.smallest_visible_gap_conical_mm);
  const double limit = rules.seating.largest_hidden_gap_mm;
  if (joint.state != JointState::no_gap_visible || joint.design != "design unknown") return false;
  if (!butt || !cone || *butt > limit || *cone <= limit) return false;
  answer.verdict = Verdict::not_assessable;
  answer.bound_by = "unknown connection";
  state(answer, "seating.largest_hidden_gap_mm", &implant,
        rules.words.get("reason.connection_unknown",
                        {{"butt", gap_text(*butt)}, {"cone", gap_text(*cone)}}));
  return true;
}

}  // namespace

Answer ask_seating(const Analysis& analysis, const Implant& implant, const Rules& rules) {
  Answer answer;
  const char* angle_rule = "seating.largest_vertical_angle_deg";
  if (platform_cut(implant, angle_rule, rules.words, answer)) return answer;
  const Outcome angle = check_angle(implant, rules.seating.largest_vertical_angle_deg, angle_rule,
                                    rules.words, answer);
  const Outcome gap = check_hidden_gap(implant, rules, answer);
  if (implant.joint.places > 1)
    state(answer, "seating.largest_hidden_gap_mm", &implant,
          rules.words.get("reason.closed_at_each", {{"n", std::to_string(implant.joint.places)}}));
  if (implant.joint.scale_assumed && implant.joint.state != JointState::not_assessable)
    state(answer, "seating.largest_hidden_gap_mm", &implant,
          rules.words.get("reason.scale_assumed"));
  if (design_decides(implant, rules, answer)) return answer;
  check_sharpness_and_exposure(analysis, &implant, rules, answer);
  if (angle == Outcome::borderline || gap == Outcome::over)
    worsen(answer, Verdict::usable_with_limits);
  if (angle == Outcome::over) {
    worsen(answer, Verdict::usable_with_limits);
    answer.to_correct.insert(answer.to_correct.begin(), "angle");
  } else if (gap == Outcome::holds) {
    answer.to_correct.clear();  // the joint shows as well as asked: nothing to repeat for
  }
  const JointMeasures& joint = implant.joint;
  const bool joint_unread = joint.state == JointState::not_assessable && !joint.reason.empty();
  if (angle == Outcome::unknown || joint_unread) answer.verdict = Verdict::not_assessable;
  if (angle == Outcome::unknown || (joint_unread && !joint.part_present))
    answer.to_correct.clear();
  else
    weigh_repeat(implant, rules, gap, answer);
  return answer;
}

Answer ask_follow_up(const Analysis& analysis, const Implant& implant, const Rules& rules) {
  Answer answer;
  const char* angle_rule = "follow_up.largest_vertical_angle_deg";
  if (platform_cut(implant, angle_rule, rules.words, answer)) return answer;
  const Outcome angle = check_angle(implant, rules.follow_up.largest_vertical_angle_deg, angle_rule,
                                    rules.words, answer);
  check_sharpness_and_exposure(analysis, &implant, rules, answer);
  if (angle == Outcome::borderline) worsen(answer, Verdict::usable_with_limits);
  if (angle == Outcome::unknown) worsen(answer, Verdict::not_assessable);
  if (angle == Outcome::over) {
    worsen(answer, Verdict::usable_with_limits);
    answer.to_correct.insert(answer.to_correct.begin(), "angle");
  }
  if (!known(analysis.scale.mm_per_px)) {
    worsen(answer, Verdict::usable_with_limits);
    state(answer, "follow_up", &implant, rules.words.get("reason.no_scale"));
  }
  state(answer, "follow_up", &implant, rules.words.get("reason.not_compared"));
  if (angle == Outcome::unknown) answer.to_correct.clear();
  settle_repeat(true, true, answer);
  return answer;
}

Answer ask_placement(const Analysis& analysis, const Implant& implant, const Rules& rules) {
  Answer answer;
  const char* rule = "placement.least_apical_margin_mm";
  const ImplantShape& shape = implant.shape;
  const char* cut = nullptr;
  if (!shape.platform_in_view) cut = "why.platform_not_in_view";
  if (!shape.both_flanks_in_view()) cut = "why.flank_not_in_view";
  if (!shape.apex_in_view) cut = "why.apex_not_in_view";
  if (cut) {
    answer.in_view = false;
    answer.verdict = Verdict::not_assessable;
    state(answer, rule, &implant, rules.words.get(cut));
    return answer;
  }
  check_apical_margin(implant, rules, answer);
  check_sharpness_and_exposure(analysis, nullptr, rules, answer);
  answer.to_correct.clear();
  if (const auto angle = known(implant.projection.vertical_angle_deg))
    state(answer, "placement", &implant,
          rules.words.get("reason.distortion", {{"angle", angle_text(*angle)}}));
  state(answer, "placement", &implant, rules.words.get("reason.two_dimensional"));
  return answer;
}

Answer ask_general(const Analysis& analysis, const Rules& rules) {
  Answer answer;
  check_sharpness_and_exposure(analysis, nullptr, rules, answer);
  answer.to_correct.clear();
  return answer;
}

}  // namespace crestgate
