#include "pipeline/followup/followup.h"

#include <algorithm>
#include <cmath>
#include <ctime>

#include "config/number_text.h"
#include "pipeline/followup/comparability.h"
#include "pipeline/followup/crest_change.h"
#include "pipeline/followup/identity.h"
#include "pipeline/followup/processing_change.h"
#include "pipeline/image/advice.h"
#include "pipeline/image/site.h"

namespace crestgate {
namespace {

void append(std::vector<std::string>& to, const std::vector<std::string>& from) {
  to.insert(to.end(), from.begin(), from.end());
}

std::optional<std::tm> date_of(const std::string& text) {
  if (text.size() < 8 || !std::all_of(text.begin(), text.begin() + 8,
                                      [](unsigned char c) { return std::isdigit(c) != 0; }))
    return std::nullopt;
  std::tm t{};
  t.tm_year = std::stoi(text.substr(0, 4)) - 1900;
  t.tm_mon = std::stoi(text.substr(4, 2)) - 1;
  t.tm_mday = std::stoi(text.substr(6, 2));
  t.tm_hour = 12;
  return t;
}

std::string of_implant(const Analysis& analysis, const Implant& implant, const std::string& words,
                       const Language& text) {
  return text.get("pair.of_implant",
                  {{"site", site_name(analysis, implant, text)}, {"words", words}});
}

/// What the step wedge did for the grey values, where the site has one.
template <class Say>
void say_wedge(const ToneMap& tones, const Rules& rules, Say say, ImplantComparison& pair) {
  if (!rules.step_wedge) return;
  if (tones.wedge_steps == 0) {
    say(rules.words.get("pair.no_wedge"));
    return;
  }
  pair.wedge_steps = tones.wedge_steps;
  pair.wedge_correction = tones.wedge_correction;
  say(rules.words.get("pair.wedge", {{"n", std::to_string(tones.wedge_steps)},
                                     {"moved", fixed(100 * tones.wedge_correction, 1)}}));
}

/// One pair of implants; false if it may not be compared, with the reasons in `out`.
bool compare_pair(const ComparisonInput& now, const ComparisonInput& before, const Implant& a,
                  const Implant& b, const Rules& rules, Compared& out) {
  ImplantComparison pair;
  pair.implant = a.id;
  pair.baseline_implant = b.id;
  const double mm_now = now.analysis.scale.mm_per_px->value;
  const double mm_before = before.analysis.scale.mm_per_px->value;
  const Registration r = register_implants(a, b, mm_now, mm_before);
  const Comparability c = compare_projection(now.analysis, before.analysis, r, rules, pair);
  const auto say = [&](const std::string& words) {
    out.comparison.reasons.push_back(of_implant(now.analysis, a, words, rules.words));
  };
  for (const auto& words : c.refusals) say(words);
  for (const auto& words : c.limits) say(words);
  const RegisteredPair registered{now.frame,
                                  before.frame,
                                  a.shape,
                                  b.shape,
                                  r,
                                  mm_before,
                                  &now.analysis.step_wedge,
                                  &before.analysis.step_wedge};
  const auto tones = match_tones(registered);
  bool comparable = c.refusals.empty();
  if (!tones) {
    say(rules.words.get("pair.grey_not_matched"));
    comparable = false;
  } else {
    // Registered from a lost platform, the pictures may lie a turn of the thread apart.
    if (!a.shape.platform_lost(mm_now) && !b.shape.platform_lost(mm_before)) {
      pair.tone_bend = tones->bend;
      pair.tone_bend_expanded_uncertainty = tones->bend_expanded_uncertainty;
    }
    say_wedge(*tones, rules, say, pair);
  }
  if (comparable) {
    const Frame harmonious = harmonised(now.frame, before.frame, *tones);
    std::vector<double> turns;
    for (const auto& turn : {pair.vertical_angle_difference_deg, pair.in_plane_difference_deg})
      if (turn) turns.push_back(*turn);
    pair.crest = crest_changes(
        {harmonious, a, b, now.analysis.quality, now.analysis.scale, r, *tones, turns}, rules);
    if (rules.follow_up.subtraction_picture) {
      out.pictures.push_back(subtract(registered, harmonious));
      out.pictures.back().implant = a.id;
      out.pictures.back().baseline_uid = out.comparison.baseline_uid;
    }
  } else {
    for (CrestChange* side : {&pair.crest.left, &pair.crest.right})
      side->reason = rules.words.get("pair.not_comparable");
  }
  out.comparison.implants.push_back(std::move(pair));
  return comparable;
}

void describe_baseline(const Analysis& now, const Analysis& before, const Rules& rules,
                       Comparison& c) {
  const Acquisition& b = before.acquisition;
  c.baseline_uid = b.sop_instance_uid;
  c.baseline_study_uid = b.study_instance_uid;
  c.baseline_series_uid = b.series_instance_uid;
  c.baseline_sop_class_uid = b.sop_class_uid;
  c.baseline_date = b.content_date.substr(0, 8);
  c.years = years_between(b.content_date, now.acquisition.content_date);
  c.early_period = c.years && *c.years * 12 <= rules.follow_up.early_period_months;
}

std::string change_text(const CrestChange& c) {
  return (*c.change_mm > 0 ? "+" : "") +
         plus_minus({*c.change_mm, *c.expanded_uncertainty_mm}, 2, " mm");
}

std::string site_of(const Analysis& analysis, int id, const Language& text) {
  for (const Implant& implant : analysis.implants)
    if (implant.id == id) return site_name(analysis, implant, text);
  return std::to_string(id);
}

std::string side_text(const std::string& side, const Language& text) {
  return text.get(side == "left" ? "side.left" : "side.right");
}

void add_finding(Analysis& analysis, const Comparison& comparison, int implant,
                 const CrestChange& c, const std::string& side, const Language& text) {
  const bool loss = c.state == CrestChange::State::loss;
  Finding finding;
  finding.kind = "bone change resolved";
  finding.implant = implant;
  finding.side = side;
  finding.text = text.get(loss ? "finding.loss" : "finding.gain",
                          {{"site", site_of(analysis, implant, text)},
                           {"side", side_text(side, text)},
                           {"change", change_text(c)},
                           {"date", date_text(comparison.baseline_date)}});
  if (comparison.early_period)
    finding.text = text.get("finding.early", {{"finding", finding.text}});
  analysis.findings.push_back(std::move(finding));
}

void add_rate_reason(Analysis& analysis, const Comparison& comparison, int implant,
                     const CrestChange& c, const std::string& side, const Rules& rules) {
  if (!c.rate_mm_per_year || comparison.early_period) return;
  const double limit = rules.follow_up.largest_yearly_loss_mm;
  if (*c.rate_mm_per_year <= limit) return;
  const std::string text = rules.words.get(
      "reason.rate",
      {{"side", side_text(side, rules.words)}, {"rate", fixed(*c.rate_mm_per_year, 2)}});
  analysis.reasons.push_back(
      {"follow_up.largest_yearly_loss_mm", implant, text, *c.rate_mm_per_year, limit, "mm/a"});
}

}  // namespace

std::optional<double> years_between(const std::string& from, const std::string& to) {
  auto a = date_of(from), b = date_of(to);
  if (!a || !b) return std::nullopt;
  return static_cast<double>(timegm(&*b) - timegm(&*a)) / (365.25 * 86400);
}

Compared compare_with(const ComparisonInput& now, const ComparisonInput& before,
                      const Rules& rules) {
  Compared out;
  Comparison& c = out.comparison;
  const Language& text = rules.words;
  describe_baseline(now.analysis, before.analysis, rules, c);
  c.reasons = identity_conflicts(now.analysis.acquisition, before.analysis.acquisition, text);
  if (!c.reasons.empty()) {
    c.state = Comparison::State::identity_not_certain;
    return out;
  }
  c.stated_processing = stated_differences(now.analysis.acquisition, before.analysis.acquisition);
  Comparability headers =
      compare_acquisition(now.analysis.acquisition, before.analysis.acquisition, text);
  append(c.reasons, headers.refusals);
  append(c.reasons, headers.limits);
  if (!now.analysis.scale.mm_per_px || !before.analysis.scale.mm_per_px) {
    c.reasons.push_back(text.get("pair.no_scale"));
    return out;
  }
  if (!headers.refusals.empty()) return out;
  const std::vector<int> pairs = pair_implants(now.analysis, before.analysis);
  bool any = false, other = false;
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    const Implant& a = now.analysis.implants[i];
    if (a.possible_only) continue;
    if (pairs[i] < 0) {
      c.reasons.push_back(of_implant(now.analysis, a, text.get("pair.which_implant"), text));
      continue;
    }
    const Implant& b = before.analysis.implants[static_cast<std::size_t>(pairs[i])];
    const GeometryCheck geometry =
        compare_geometry(a, now.analysis.scale, b, before.analysis.scale, text);
    for (const std::string& words : geometry.differences)
      c.reasons.push_back(of_implant(now.analysis, a, words, text));
    if (!geometry.differences.empty()) {
      c.reasons.push_back(of_implant(now.analysis, a, text.get("pair.begins_anew"), text));
      other = true;
      continue;
    }
    any = compare_pair(now, before, a, b, rules, out) || any;
  }
  if (pairs.empty()) c.reasons.push_back(text.get("pair.no_implant"));
  c.state = any     ? Comparison::State::compared
            : other ? Comparison::State::new_baseline
                    : Comparison::State::not_comparable;
  return out;
}

void settle_comparisons(Analysis& analysis, const Rules& rules) {
  resolve_changes(analysis.comparisons);
  bool compared = false;
  for (const Comparison& comparison : analysis.comparisons) {
    compared = compared || comparison.state == Comparison::State::compared;
    for (const ImplantComparison& pair : comparison.implants)
      for (const bool left : {true, false}) {
        const CrestChange& c = left ? pair.crest.left : pair.crest.right;
        if (c.state != CrestChange::State::loss && c.state != CrestChange::State::gain) continue;
        add_finding(analysis, comparison, pair.implant, c, left ? "left" : "right", rules.words);
        add_rate_reason(analysis, comparison, pair.implant, c, left ? "left" : "right", rules);
      }
  }
  settle_processing(analysis, rules);
  lead_advice_with_findings(analysis);
  if (!compared) return;
  const std::string not_compared = rules.words.get("reason.not_compared");
  auto& reasons = analysis.reasons;
  reasons.erase(std::remove_if(reasons.begin(), reasons.end(),
                               [&](const Reason& r) {
                                 return r.rule == "follow_up" && r.text == not_compared;
                               }),
                reasons.end());
}

}  // namespace crestgate
