#include "pipeline/judge/checks.h"

#include <algorithm>
#include <cmath>

#include "pipeline/judge/words.h"

namespace crestgate {
namespace {

std::string outcome_text(Outcome outcome, const Language& text) {
  switch (outcome) {
    case Outcome::holds:
      return text.get("outcome.within");
    case Outcome::borderline:
      return text.get("outcome.borderline");
    case Outcome::over:
      return text.get("outcome.over");
    case Outcome::unknown:
      break;
  }
  return text.get("outcome.unknown");
}

Outcome compare(double value, double expanded_uncertainty, double limit) {
  if (value > limit) return Outcome::over;
  return value + expanded_uncertainty > limit ? Outcome::borderline : Outcome::holds;
}

std::optional<int> id_of(const Implant* implant) {
  if (!implant) return {};
  return implant->id;
}

/// A rule on a figure that carries no uncertainty of its own.
struct PlainRule {
  const char* key;
  const char* what;  ///< key of its name
  double limit;
  std::string shown_limit;
  const char* unit;
};

Outcome check_plain(const PlainRule& rule, const std::optional<double>& value,
                    const std::string& shown, const Language& text, Answer& answer) {
  const std::string what = text.get(rule.what);
  if (!value) {
    answer.reasons.push_back(
        {rule.key, {}, text.get("reason.not_known", {{"what", what}}), {}, rule.limit, rule.unit});
    return Outcome::unknown;
  }
  const Outcome outcome = compare(*value, 0.0, rule.limit);
  answer.reasons.push_back({rule.key,
                            {},
                            text.get("reason.plain", {{"what", what},
                                                      {"value", shown},
                                                      {"limit", rule.shown_limit},
                                                      {"outcome", outcome_text(outcome, text)}}),
                            value,
                            rule.limit,
                            rule.unit});
  return outcome;
}

std::string percent(double fraction) { return fixed(100 * fraction, 1) + " %"; }

}  // namespace

void state(Answer& answer, const char* rule, const Implant* implant, std::string text) {
  answer.reasons.push_back({rule, id_of(implant), std::move(text), {}, {}, ""});
}

void worsen(Answer& answer, Verdict verdict) { answer.verdict = std::max(answer.verdict, verdict); }

Outcome check_angle(const Implant& implant, double limit_deg, const char* rule,
                    const Language& text, Answer& answer) {
  const ProjectionMeasures& p = implant.projection;
  const auto angle = known(p.vertical_angle_deg);
  if (!angle) {
    const std::string why = text.get(p.reason.empty() ? "why.no_cue" : p.reason);
    answer.reasons.push_back(
        {rule, implant.id, text.get("reason.angle_unknown", {{"why", why}}), {}, limit_deg, "deg"});
    return Outcome::unknown;
  }
  const Outcome outcome = compare(std::abs(angle->value), angle->expanded_uncertainty, limit_deg);
  const std::string side = !p.direction_resolved ? text.get("reason.no_direction")
                           : angle->value > 0    ? text.get("reason.source_coronal")
                           : angle->value < 0    ? text.get("reason.source_apical")
                                                 : "";
  answer.reasons.push_back({rule, implant.id,
                            text.get("reason.angle", {{"angle", angle_text(*angle)},
                                                      {"side", side},
                                                      {"limit", fixed(limit_deg, 1)},
                                                      {"outcome", outcome_text(outcome, text)}}),
                            std::abs(angle->value), limit_deg, "deg"});
  return outcome;
}

Outcome check_hidden_gap(const Implant& implant, const Rules& rules, Answer& answer) {
  const Language& text = rules.words;
  const double limit = rules.seating.largest_hidden_gap_mm;
  const auto gap = known(implant.joint.smallest_visible_gap_mm);
  const char* rule = "seating.largest_hidden_gap_mm";
  if (!gap) {
    const std::string& why = implant.joint.reason;
    const std::string words =
        why.empty() ? text.get("reason.gap_unknown")
                    : text.get("reason.gap_unknown_because", {{"why", text.get(why)}});
    answer.reasons.push_back({rule, implant.id, words, {}, limit, "mm"});
    return Outcome::unknown;
  }
  // The measure is already the worst inside the angle's uncertainty, so it has none of its own
  // here.
  const Outcome outcome = compare(*gap, 0.0, limit);
  std::string words = text.get("reason.gap", {{"gap", gap_text(*gap)},
                                              {"limit", gap_text(limit)},
                                              {"outcome", outcome_text(outcome, text)}});
  if (outcome == Outcome::over && !implant.joint.bounded_by.empty())
    words = text.get("reason.bounded",
                     {{"reason", words}, {"cause", text.get("bound." + implant.joint.bounded_by)}});
  answer.reasons.push_back({rule, implant.id, words, gap, limit, "mm"});
  return outcome;
}

namespace {

std::string margin_outcome(Outcome outcome, const Language& text) {
  switch (outcome) {
    case Outcome::over:
      return text.get("outcome.too_little_in_view");
    case Outcome::borderline:
      return text.get("outcome.borderline");
    case Outcome::holds:
      return text.get("outcome.enough_in_view");
    case Outcome::unknown:
      break;
  }
  return text.get("value.not_assessable");
}

}  // namespace

Outcome check_apical_margin(const Implant& implant, const Rules& rules, Answer& answer) {
  const Language& text = rules.words;
  const Extent& extent = implant.extent;
  const double limit = rules.placement.least_apical_margin_mm;
  Reason reason{"placement.least_apical_margin_mm", implant.id, "", {}, limit, "mm"};
  std::string shown = text.get("outcome.unknown");
  Outcome outcome = Outcome::unknown;
  if (const auto margin = known(extent.apical_margin_mm)) {
    outcome = margin->value < limit                                  ? Outcome::over
              : margin->value - margin->expanded_uncertainty < limit ? Outcome::borderline
                                                                     : Outcome::holds;
    reason.value = margin->value;
    shown = plus_minus(*margin, 1, " mm");
  } else if (const auto least = known(extent.apical_margin_least_mm),
             most = known(extent.apical_margin_most_mm);
             least && most) {
    // No scale, but the body itself bounds it.
    if (*least >= limit) outcome = Outcome::holds;
    if (*most < limit) outcome = Outcome::over;
    shown =
        text.get("reason.margin_range", {{"least", fixed(*least, 1)}, {"most", fixed(*most, 1)}});
  }
  if ((reason.value || outcome != Outcome::unknown) && !extent.bounded_by.empty())
    shown += " (" + text.get("border." + extent.bounded_by) + ")";
  reason.text = text.get(
      "reason.margin",
      {{"margin", shown}, {"limit", fixed(limit, 1)}, {"outcome", margin_outcome(outcome, text)}});
  if (outcome != Outcome::holds) worsen(answer, Verdict::usable_with_limits);
  answer.reasons.push_back(std::move(reason));
  return outcome;
}

Outcome check_noise(const Analysis& analysis, const Rules& rules, Answer& answer) {
  const auto noise = known(analysis.quality.noise);
  const double limit = rules.exposure.largest_noise;
  const std::string shown =
      noise ? rules.words.get("reason.noise_value", {{"percent", percent(*noise)}}) : "";
  return check_plain({"exposure.largest_noise", "what.noise", limit, percent(limit), "1"}, noise,
                     shown, rules.words, answer);
}

Outcome check_blur(const Analysis& analysis, const Rules& rules, Answer& answer) {
  const auto sigma_px = known(analysis.quality.blur_sigma_px);
  const auto scale = known(analysis.scale.mm_per_px);
  std::optional<double> sigma_mm;
  if (sigma_px && scale) sigma_mm = *sigma_px * scale->value;
  const double limit = rules.exposure.largest_blur_sigma_mm;
  return check_plain({"exposure.largest_blur_sigma_mm", "what.blur", limit, mm_text(limit), "mm"},
                     sigma_mm, sigma_mm ? mm_text(*sigma_mm) : "", rules.words, answer);
}

Outcome check_clipping(const Analysis& analysis, const Implant* implant, const Rules& rules,
                       Answer& answer) {
  const double limit = rules.exposure.largest_clipped_fraction;
  const bool local = implant && known(implant->clipped_at_joint);
  const auto clipped = local ? implant->clipped_at_joint
                             : known(std::optional<double>(analysis.quality.clipped_low +
                                                           analysis.quality.clipped_high));
  const char* what = local ? "what.clipped_at_joint" : "what.clipped_in_image";
  const Outcome outcome =
      check_plain({"exposure.largest_clipped_fraction", what, limit, percent(limit), "1"}, clipped,
                  clipped ? percent(*clipped) : "", rules.words, answer);
  if (implant) answer.reasons.back().implant = implant->id;
  return outcome;
}

}  // namespace crestgate
