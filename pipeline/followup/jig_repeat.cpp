#include "pipeline/followup/jig_repeat.h"

#include <algorithm>
#include <cmath>

#include "config/lower_case.h"
#include "config/number_text.h"
#include "pipeline/followup/comparability.h"
#include "pipeline/followup/identity.h"
#include "pipeline/followup/registration.h"
#include "pipeline/image/advice.h"

namespace crestgate {
namespace {

/// What is left of one implant's projection, now minus before.
struct Repeat {
  std::optional<Quantity> vertical_deg;  ///< of magnitudes where a direction is not resolved
  double turn_deg = 0.0;
  Quantity size;  ///< relative
};

Repeat repeat_of(const Analysis& now, const Analysis& before, const Implant& a, const Implant& b,
                 const Rules& rules) {
  ImplantComparison pair;
  pair.implant = a.id;
  pair.baseline_implant = b.id;
  const Registration r =
      register_implants(a, b, now.scale.mm_per_px->value, before.scale.mm_per_px->value);
  compare_projection(now, before, r, rules, pair);
  Repeat repeat;
  if (pair.vertical_angle_difference_deg)
    repeat.vertical_deg = {*pair.vertical_angle_difference_deg,
                           std::hypot(a.projection.vertical_angle_deg->expanded_uncertainty,
                                      b.projection.vertical_angle_deg->expanded_uncertainty)};
  repeat.turn_deg = *pair.in_plane_difference_deg;
  repeat.size = {*pair.scale_ratio - 1, 2 * r.scale_v_sd / r.scale_v};
  return repeat;
}

bool beyond(const Quantity& difference, double limit) {
  return std::abs(difference.value) > std::max(limit, difference.expanded_uncertainty);
}

std::string repeat_words(const Repeat& repeat, const Language& text) {
  return text.get(
      "positioner.repeats",
      {{"vertical", repeat.vertical_deg ? plus_minus(*repeat.vertical_deg, 1, "°")
                                        : text.get("positioner.not_known")},
       {"turn", fixed(repeat.turn_deg, 1)},
       {"size",
        plus_minus({100 * repeat.size.value, 100 * repeat.size.expanded_uncertainty}, 1, " %")}});
}

}  // namespace

std::string jig_id(const Acquisition& acquisition, const std::optional<Positioning>& rule) {
  if (!rule) return "";
  const auto found = acquisition.reason_texts.find(rule->attribute);
  if (found == acquisition.reason_texts.end()) return "";
  const std::string text = lower_case(found->second), before = lower_case(rule->before);
  const std::size_t at = text.find(before);
  if (at == std::string::npos) return "";
  const std::size_t from = text.find_first_not_of(" \t", at + before.size());
  if (from == std::string::npos) return "";
  return text.substr(from, text.find_first_of(" \t\r\n\\,;", from) - from);
}

void judge_jig(Analysis& now, const Analysis& before, const Rules& rules) {
  const Language& text = rules.words;
  const std::string id = jig_id(now.acquisition, rules.positioning);
  if (id.empty() || id != jig_id(before.acquisition, rules.positioning)) return;
  if (!now.scale.mm_per_px || !before.scale.mm_per_px ||
      !identity_conflicts(now.acquisition, before.acquisition, text).empty())
    return;
  const std::vector<int> pairs = pair_implants(now, before);
  bool remake = false;
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    if (pairs[i] < 0) continue;
    const Implant& a = now.implants[i];
    const Implant& b = before.implants[static_cast<std::size_t>(pairs[i])];
    if (!compare_geometry(a, now.scale, b, before.scale, text).differences.empty()) continue;
    const Repeat repeat = repeat_of(now, before, a, b, rules);
    const double turn = std::max(
        std::abs(repeat.turn_deg),
        repeat.vertical_deg && beyond(*repeat.vertical_deg, rules.positioning->largest_drift_deg)
            ? std::abs(repeat.vertical_deg->value)
            : 0.0);
    const std::string said =
        text.get("positioner.against", {{"id", id},
                                        {"date", date_text(before.acquisition.content_date)},
                                        {"repeats", repeat_words(repeat, text)}});
    if (turn > rules.positioning->largest_drift_deg) {
      now.reasons.push_back({"positioning.largest_drift_deg", a.id, said, turn,
                             rules.positioning->largest_drift_deg, "deg"});
      remake = true;
    } else if (beyond(repeat.size, rules.positioning->largest_size_drift)) {
      now.reasons.push_back({"positioning.largest_size_drift", a.id, said,
                             std::abs(repeat.size.value), rules.positioning->largest_size_drift,
                             ""});
      remake = true;
    } else {
      now.reasons.push_back({"positioning", a.id, said, {}, {}, ""});
    }
  }
  if (!remake) return;
  now.action += (now.action.empty() ? "" : "; ") + text.get("positioner.remake", {{"id", id}});
  lead_advice_with_findings(now);
}

}  // namespace crestgate
