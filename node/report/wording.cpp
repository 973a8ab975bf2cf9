#include "node/report/wording.h"

#include "node/report/comparison_text.h"
#include "node/report/sides.h"
#include "node/report/text.h"
#include "pipeline/image/scale_words.h"

#include <algorithm>
#include <cmath>

namespace crestgate {
namespace {

int severity(const Implant& implant) {
  return implant.possible_only ? -1 : static_cast<int>(implant.verdict);
}

const Finding* first_finding(const Analysis& analysis) {
  return analysis.findings.empty() ? nullptr : &analysis.findings.front();
}

const Implant* implant_by_id(const Analysis& analysis, int id) {
  for (const Implant& implant : analysis.implants) {
    if (implant.id == id) return &implant;
  }
  return nullptr;
}

std::string with_uncertainty(double value, std::optional<double> u, int decimals,
                             const std::string& unit, const Language& text) {
  if (!u)
    return text.get("value.no_uncertainty", {{"value", fixed(value, decimals)}, {"unit", unit}});
  return text.get(
      "value.plus_minus",
      {{"value", fixed(value, decimals)}, {"u", fixed_up(*u, decimals)}, {"unit", unit}});
}

std::string not_assessable(const std::string& reason, const Language& text) {
  if (reason.empty()) return text.get("value.not_assessable");
  return text.get("value.because", {{"reason", text.get(reason)}});
}

/// The change a finding of one side speaks of, from the newest comparison that resolved it.
const CrestChange* newest_change(const Analysis& analysis, const Finding& finding) {
  const CrestChange* newest = nullptr;
  for (const Comparison& comparison : analysis.comparisons)
    for (const ImplantComparison& pair : comparison.implants) {
      const CrestChange& change = finding.side == "left" ? pair.crest.left : pair.crest.right;
      const bool resolved =
          change.state == CrestChange::State::loss || change.state == CrestChange::State::gain;
      if (pair.implant == finding.implant && resolved) newest = &change;
    }
  return newest;
}

std::string finding_main(const Analysis& analysis, const Finding& finding, const Language& text) {
  const Implant* implant = implant_by_id(analysis, finding.implant);
  const std::string site = implant ? site_name(analysis, *implant, text) : "";
  std::string main;
  if (finding.kind == "gap visible") {
    main = text.get("headline.gap", {{"site", site}});
    if (implant && implant->joint.gap_mm) {
      const std::string size = with_uncertainty(
          *implant->joint.gap_mm, implant->joint.gap_expanded_uncertainty_mm, 2, " mm", text);
      main = text.get("headline.sized", {{"finding", main}, {"size", size}});
    } else {
      main = text.get("headline.sized", {{"finding", main}, {"size", text.get("finding.no_size")}});
    }
  } else if (finding.kind == "bone change resolved") {
    main = text.get("headline.bone_change", {{"site", site}});
    if (const CrestChange* change = implant ? newest_change(analysis, finding) : nullptr)
      main = text.get("headline.sized", {{"finding", main}, {"size", change_words(*change, text)}});
  } else if (finding.kind == "processing changed") {
    return text.get("headline.processing");
  } else {
    return finding.text.empty() ? finding.kind : finding.text;
  }
  if (finding.side.empty()) return main;
  const LeftRight<std::string> names =
      implant ? short_side_names(analysis, *implant, text)
              : LeftRight<std::string>{text.get("side.left"), text.get("side.right")};
  return text.get("headline.on_side",
                  {{"finding", main}, {"side", finding.side == "left" ? names.left : names.right}});
}

std::string joint_main(const Analysis& analysis, const Implant& implant, const Language& text) {
  const JointMeasures& joint = implant.joint;
  switch (joint.state) {
    case JointState::gap_visible:
      return text.get("headline.gap", {{"site", site_name(analysis, implant, text)}});
    case JointState::no_gap_visible:
      if (!joint.smallest_visible_gap_mm) return text.get("headline.no_gap");
      return text.get("headline.no_gap_limit",
                      {{"limit", limit_um(*joint.smallest_visible_gap_mm)}});
    case JointState::not_assessable:
      break;
  }
  // No part seen is only said when the joint's surroundings are in view and it was looked for.
  if (!joint.part_present && implant.shape.platform_in_view && joint.reason.empty()) {
    return text.get("headline.no_part");
  }
  return text.get("headline.joint_not_assessable");
}

std::string placement_main(const Implant& implant, const Language& text) {
  if (!implant.shape.platform_in_view || !implant.shape.apex_in_view)
    return text.get("headline.placement_cut");
  const std::optional<Quantity>& margin = implant.extent.apical_margin_mm;
  if (!margin) return text.get("headline.placement_whole");
  return text.get("headline.placement_margin", {{"margin", plus_minus(*margin, 1, " mm")}});
}

/// Of several implants without a finding the one with the largest hidden gap speaks for the image.
const Implant* least_certain(const Analysis& analysis) {
  const Implant* least = nullptr;
  auto rank = [](const Implant& i) {
    if (i.joint.state != JointState::no_gap_visible) return 1e9;
    return i.joint.smallest_visible_gap_mm.value_or(1e8);
  };
  for (const Implant& implant : analysis.implants) {
    if (implant.possible_only) continue;
    if (!least || rank(implant) > rank(*least)) least = &implant;
  }
  return least;
}

std::string intent_line(const Analysis& analysis, const Language& text) {
  const std::string intent = text.get(std::string("intent.") + intent_name(analysis.intent));
  return text.get(analysis.intent_from_rule ? "sub.stated" : "sub.inferred", {{"intent", intent}});
}

}  // namespace

const Implant* leading_implant(const Analysis& analysis) {
  if (const Finding* finding = first_finding(analysis)) {
    if (const Implant* implant = implant_by_id(analysis, finding->implant)) return implant;
  }
  const Implant* leading = nullptr;
  for (const Implant& implant : analysis.implants) {
    if (!leading || severity(implant) > severity(*leading)) leading = &implant;
  }
  return leading;
}

Headline headline(const Analysis& analysis, const Language& text) {
  Headline line;
  if (!analysis.error.ok()) {
    line.main = text.get("headline.unusable");
    line.sub = analysis.error.text;
    return line;
  }
  line.sub = intent_line(analysis, text);
  if (const Finding* finding = first_finding(analysis)) {
    line.is_finding = true;
    line.main = finding_main(analysis, *finding, text);
    if (finding->kind == "gap visible") line.sub = text.get("sub.check_seating") + " " + line.sub;
    if (analysis.findings.size() > 1) {
      line.sub += " " + text.get("sub.more", {{"n", std::to_string(analysis.findings.size() - 1)}});
    }
    return line;
  }
  const Implant* implant = least_certain(analysis);
  if (!implant) {
    line.main =
        text.get(analysis.implants.empty() ? "headline.no_implant" : "headline.possible_only");
  } else if (analysis.intent == Intent::placement && analysis.intent_from_rule) {
    line.main = placement_main(*implant, text);
  } else {
    line.main = joint_main(analysis, *implant, text);
  }
  if (implant && (analysis.intent == Intent::placement || !analysis.intent_from_rule)) {
    line.sub += " " + text.get("sub.placement");
  }
  return line;
}

std::string angle_text(const Implant& implant, const Language& text) {
  const ProjectionMeasures& projection = implant.projection;
  if (!projection.vertical_angle_deg) return not_assessable(projection.reason, text);
  const Quantity angle = *projection.vertical_angle_deg;
  const std::string value = fixed(angle.value, 1), u = fixed_up(angle.expanded_uncertainty, 1);
  if (std::abs(angle.value) <= angle.expanded_uncertainty) {
    return text.get("value.within_error", {{"value", value}, {"u", u}, {"unit", "°"}});
  }
  const std::string direction = !projection.direction_resolved ? "angle.unsigned"
                                : angle.value > 0              ? "angle.coronal"
                                                               : "angle.apical";
  return text.get("value.plus_minus",
                  {{"value", fixed(std::abs(angle.value), 1)}, {"u", u}, {"unit", "°"}}) +
         "\n" + text.get(direction);
}

std::string action_sentence(const Analysis& analysis) {
  return analysis.action.empty() ? "" : sentence(analysis.action) + ".";
}

std::string limit_um(double limit_mm) { return fixed_up(limit_mm * 1000.0, 0); }

std::string limit_text(const Implant& implant, const Language& text) {
  if (!implant.joint.smallest_visible_gap_mm) return not_assessable(implant.joint.reason, text);
  return text.get("limit.value", {{"limit", limit_um(*implant.joint.smallest_visible_gap_mm)},
                                  {"design", text.get("design." + implant.joint.design)}});
}

std::string crest_text(const Analysis& analysis, const Implant& implant, const Language& text) {
  auto side = [&](const CrestLevel& level) {
    if (!level.level_mm) return text.get("value.not_assessable");
    return with_uncertainty(*level.level_mm, level.expanded_uncertainty_mm, 2, " mm", text);
  };
  if (!implant.crest.left.level_mm && !implant.crest.right.level_mm) {
    return not_assessable(implant.crest.left.reason, text);
  }
  const LeftRight<std::string> names = side_names(analysis, implant, text);
  return text.get("crest.sides", {{"left_name", names.left},
                                  {"right_name", names.right},
                                  {"left", side(implant.crest.left)},
                                  {"right", side(implant.crest.right)}});
}

std::string scale_text(const Analysis& analysis, const Language& text) {
  if (!analysis.scale.mm_per_px) return text.get("scale.none");
  const Quantity scale = *analysis.scale.mm_per_px;
  const std::string value =
      text.get("value.plus_minus", {{"value", fixed(scale.value * 1000, 1)},
                                    {"u", fixed_up(scale.expanded_uncertainty * 1000, 1)},
                                    {"unit", ""}});
  return text.get("scale.value",
                  {{"value", value}, {"source", scale_source_text(analysis.scale.source, text)}});
}

std::vector<const Reason*> unmet_reasons(const Analysis& analysis) {
  std::vector<const Reason*> unmet;
  for (const Reason& reason : analysis.reasons) {
    const Implant* about = reason.implant ? implant_by_id(analysis, *reason.implant) : nullptr;
    if (about && about->possible_only) continue;  // not judged
    if (reason.value && reason.limit) {
      const bool is_floor = reason.rule.find("least") != std::string::npos;
      const bool met = is_floor ? *reason.value >= *reason.limit : *reason.value <= *reason.limit;
      if (met) continue;
    }
    unmet.push_back(&reason);
  }
  return unmet;
}

std::string cautions_text(const Language& text) {
  std::string cautions;
  for (const char* key : {"caution.not_diagnosis", "caution.bone", "caution.tight"}) {
    cautions += (cautions.empty() ? "" : " ") + text.get(key);
  }
  return cautions;
}

std::string series_description(const Analysis& analysis, const Rules& rules, const Language& text) {
  const Headline line = headline(analysis, text);
  std::string description = rules.mode == Mode::trial ? text.get("series.trial") : "";
  description +=
      text.get(std::string("judged.") + verdict_name(analysis.verdict)) + "; " + line.main;
  description = ascii_fold(description);
  // A backslash would split the value (VM 1).
  std::replace(description.begin(), description.end(), '\\', '/');
  constexpr std::size_t kLongestLo = 64;
  if (description.size() > kLongestLo) description = description.substr(0, kLongestLo - 3) + "...";
  return description;
}

}  // namespace crestgate
