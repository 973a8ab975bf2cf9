#include "pipeline/judge/checks.h"

#include <algorithm>
#include <cmath>

#include "pipeline/judge/words.h"

namespace crestgate {
namespace {

const char* outcome_text(Outcome outcome) {
  switch (outcome) {
    case Outcome::holds:
      return "within the limit";
    case Outcome::borderline:
      return "the limit lies inside the uncertainty";
    case Outcome::over:
      return "over the limit";
    case Outcome::unknown:
      return "not known";
  }
  return "not known";
}

Outcome compare(double value, double expanded_uncertainty, double limit) {
  if (value > limit) return Outcome::over;
  return value + expanded_uncertainty > limit ? Outcome::borderline : Outcome::holds;
}

std::optional<int> id_of(const Implant* implant) {
  if (!implant) return {};
  return implant->id;
}

// Rules on whole-image fractions and ratios share their shape.
Outcome check_plain(Answer& answer, const char* rule, const std::string& what,
                    const std::optional<double>& value, double limit, const std::string& shown,
                    const std::string& shown_limit, const char* unit) {
  if (!value) {
    answer.reasons.push_back({rule, {}, what + " not known", {}, limit, unit});
    return Outcome::unknown;
  }
  const Outcome outcome = compare(*value, 0.0, limit);
  answer.reasons.push_back(
      {rule,
       {},
       what + " " + shown + ", limit " + shown_limit + ": " + outcome_text(outcome),
       value,
       limit,
       unit});
  return outcome;
}

std::string percent(double fraction) { return fixed(100 * fraction, 1) + " %"; }

}  // namespace

void state(Answer& answer, const char* rule, const Implant* implant, std::string text) {
  answer.reasons.push_back({rule, id_of(implant), std::move(text), {}, {}, ""});
}

void worsen(Answer& answer, Verdict verdict) { answer.verdict = std::max(answer.verdict, verdict); }

Outcome check_angle(const Implant& implant, double limit_deg, const char* rule, Answer& answer) {
  const ProjectionMeasures& p = implant.projection;
  const auto angle = known(p.vertical_angle_deg);
  if (!angle) {
    const std::string why = p.reason.empty() ? "no usable cue" : p.reason;
    answer.reasons.push_back(
        {rule, implant.id, "beam angle not assessable: " + why, {}, limit_deg, "deg"});
    return Outcome::unknown;
  }
  const Outcome outcome = compare(std::abs(angle->value), angle->expanded_uncertainty, limit_deg);
  const char* side = !p.direction_resolved ? ", direction not resolved"
                     : angle->value > 0    ? ", source too far to the crown side"
                     : angle->value < 0    ? ", source too far to the root side"
                                           : "";
  answer.reasons.push_back({rule, implant.id,
                            "beam " + angle_text(*angle) + " off perpendicular" + side +
                                ", limit " + fixed(limit_deg, 1) + "°: " + outcome_text(outcome),
                            std::abs(angle->value), limit_deg, "deg"});
  return outcome;
}

Outcome check_hidden_gap(const Implant& implant, const Rules& rules, Answer& answer) {
  const double limit = rules.seating.largest_hidden_gap_mm;
  const auto gap = known(implant.joint.smallest_visible_gap_mm);
  const char* rule = "seating.largest_hidden_gap_mm";
  if (!gap) {
    const std::string why = implant.joint.reason.empty() ? "" : ": " + implant.joint.reason;
    answer.reasons.push_back(
        {rule, implant.id, "smallest visible gap not known" + why, {}, limit, "mm"});
    return Outcome::unknown;
  }
  // The measure is already the worst inside the angle's uncertainty, so it has none of its own
  // here.
  const Outcome outcome = compare(*gap, 0.0, limit);
  std::string text = "smallest visible gap " + mm_text(*gap) +
                     " (worst inside the angle's "
                     "uncertainty), limit " +
                     mm_text(limit) + ": " + outcome_text(outcome);
  if (outcome == Outcome::over && !implant.joint.bounded_by.empty())
    text += ", bounded by " + implant.joint.bounded_by;
  answer.reasons.push_back({rule, implant.id, text, gap, limit, "mm"});
  return outcome;
}

Outcome check_apical_margin(const Implant& implant, const Rules& rules, Answer& answer) {
  const Extent& extent = implant.extent;
  const double limit = rules.placement.least_apical_margin_mm;
  Reason reason{"placement.least_apical_margin_mm", implant.id, "", {}, limit, "mm"};
  const std::string wanted = " in view, at least " + fixed(limit, 1) + " mm wanted: ";
  const std::string end = extent.bounded_by.empty() ? "" : " (up to the " + extent.bounded_by + ")";
  Outcome outcome = Outcome::unknown;
  if (const auto margin = known(extent.apical_margin_mm)) {
    outcome = margin->value < limit                                  ? Outcome::over
              : margin->value - margin->expanded_uncertainty < limit ? Outcome::borderline
                                                                     : Outcome::holds;
    reason.value = margin->value;
    reason.text = "margin beyond the apex " + plus_minus(*margin, 1, " mm") + end + wanted;
  } else if (const auto least = known(extent.apical_margin_least_mm),
             most = known(extent.apical_margin_most_mm);
             least && most) {
    // No scale, but the body itself bounds it.
    if (*least >= limit) outcome = Outcome::holds;
    if (*most < limit) outcome = Outcome::over;
    reason.text = "margin beyond the apex " + fixed(*least, 1) + " to " + fixed(*most, 1) +
                  " mm, no scale" + end + wanted;
  } else {
    reason.text = "margin beyond the apex not known" + wanted;
  }
  reason.text += outcome == Outcome::over         ? "too little in view"
                 : outcome == Outcome::borderline ? "the limit lies inside the uncertainty"
                 : outcome == Outcome::holds      ? "enough in view"
                                                  : "not assessable";
  if (outcome != Outcome::holds) worsen(answer, Verdict::usable_with_limits);
  answer.reasons.push_back(std::move(reason));
  return outcome;
}

Outcome check_noise(const Analysis& analysis, const Rules& rules, Answer& answer) {
  const auto noise = known(analysis.quality.noise);
  const double limit = rules.exposure.largest_noise;
  return check_plain(answer, "exposure.largest_noise", "noise", noise, limit,
                     noise ? percent(*noise) + " of the metal's contrast" : "", percent(limit),
                     "1");
}

Outcome check_blur(const Analysis& analysis, const Rules& rules, Answer& answer) {
  const auto sigma_px = known(analysis.quality.blur_sigma_px);
  const auto scale = known(analysis.scale.mm_per_px);
  std::optional<double> sigma_mm;
  if (sigma_px && scale) sigma_mm = *sigma_px * scale->value;
  const double limit = rules.exposure.largest_blur_sigma_mm;
  return check_plain(answer, "exposure.largest_blur_sigma_mm", "blur sigma", sigma_mm, limit,
                     sigma_mm ? mm_text(*sigma_mm) : "", mm_text(limit), "mm");
}

Outcome check_clipping(const Analysis& analysis, const Implant* implant, const Rules& rules,
                       Answer& answer) {
  const double limit = rules.exposure.largest_clipped_fraction;
  const bool local = implant && known(implant->clipped_at_joint);
  const auto clipped = local ? implant->clipped_at_joint
                             : known(std::optional<double>(analysis.quality.clipped_low +
                                                           analysis.quality.clipped_high));
  const Outcome outcome =
      check_plain(answer, "exposure.largest_clipped_fraction",
                  local ? "clipped part around the joint" : "clipped part of the image", clipped,
                  limit, clipped ? percent(*clipped) : "", percent(limit), "1");
  if (implant) answer.reasons.back().implant = implant->id;
  return outcome;
}

}  // namespace crestgate
