#include "node/report/comparison_text.h"

#include "node/report/sides.h"
#include "node/report/wording.h"

namespace crestgate {
namespace {

std::string signed_mm(double mm) { return (mm > 0 ? "+" : "") + fixed(mm, 2) + " mm"; }

std::string state_key(CrestChange::State state) {
  return std::string("change.") + (state == CrestChange::State::loss   ? "loss"
                                   : state == CrestChange::State::gain ? "gain"
                                                                       : "within_error");
}

std::string state_key(Comparison::State state) {
  switch (state) {
    case Comparison::State::compared:
      return "compare.compared";
    case Comparison::State::identity_not_certain:
      return "compare.identity";
    case Comparison::State::new_baseline:
      return "compare.new_baseline";
    case Comparison::State::not_comparable:
      break;
  }
  return "compare.not_comparable";
}

void add_side(const CrestChange& change, const std::string& where, const Language& text,
              std::vector<std::string>& lines) {
  std::string line = change_text(change, text);
  if (change.smallest_resolvable_mm)
    line += "; " + text.get("change.least", {{"mm", fixed_up(*change.smallest_resolvable_mm, 2)}});
  if (change.rate_mm_per_year)
    line += "; " + text.get("change.rate", {{"mm", signed_mm(*change.rate_mm_per_year)}});
  lines.push_back(text.get("compare.side", {{"where", where}, {"change", line}}));
  if (!change.change_mm) return;
  lines.push_back(where + ": " + budget_text(change.budget, text));
  if (change.brightness_mm && change.contrast_mm && change.gamma_mm)
    lines.push_back(where + ": " +
                    text.get("compare.grey", {{"brightness", fixed(*change.brightness_mm, 2)},
                                              {"contrast", fixed(*change.contrast_mm, 2)},
                                              {"gamma", fixed(*change.gamma_mm, 2)}}));
}

}  // namespace

std::string change_text(const CrestChange& change, const Language& text) {
  if (!change.change_mm) return text.get("value.because", {{"reason", text.get(change.reason)}});
  return (*change.change_mm > 0 ? "+" : "") +
         plus_minus({*change.change_mm, *change.expanded_uncertainty_mm}, 2, " mm") + ", " +
         text.get(state_key(change.state));
}

std::string change_words(const CrestChange& change, const Language& text) {
  if (!change.change_mm) return text.get("value.not_assessable");
  if (change.state == CrestChange::State::within_error) return text.get("change.within_error");
  const Quantity size{std::abs(*change.change_mm), *change.expanded_uncertainty_mm};
  return text.get(
      change.state == CrestChange::State::loss ? "change.size_loss" : "change.size_gain",
      {{"size", plus_minus(size, 2, " mm")}});
}

std::string change_cell(const Analysis& analysis, const Implant& implant, const Language& text) {
  if (!analysis.comparison_pending.empty()) return text.get("change.pending");
  if (analysis.comparisons.empty()) return text.get("change.no_baseline");
  const Comparison& newest = analysis.comparisons.back();
  for (const ImplantComparison& pair : newest.implants) {
    if (pair.implant != implant.id || newest.state != Comparison::State::compared) continue;
    const LeftRight<std::string> names = short_side_names(analysis, implant, text);
    const auto side = [&](const std::string& name, const CrestChange& change) {
      return text.get("picture.change", {{"side", name}, {"change", change_words(change, text)}});
    };
    return side(names.left, pair.crest.left) + "\n" + side(names.right, pair.crest.right);
  }
  return text.get(newest.state == Comparison::State::compared ? "value.not_assessable"
                                                              : state_key(newest.state));
}

std::string comparison_head(const Comparison& comparison, const Language& text) {
  std::string state = text.get(state_key(comparison.state));
  if (comparison.state == Comparison::State::compared && comparison.early_period)
    state += "; " + text.get("compare.early");
  return text.get("compare.head", {{"date", date_text(comparison.baseline_date)},
                                   {"uid", comparison.baseline_uid},
                                   {"state", state}});
}

std::vector<std::string> comparison_lines(const Analysis& analysis, const Language& text) {
  std::vector<std::string> lines;
  if (!analysis.comparison_pending.empty())
    lines.push_back(text.get("compare.pending", {{"reason", analysis.comparison_pending}}));
  for (const Comparison& comparison : analysis.comparisons) {
    lines.push_back(comparison_head(comparison, text));
    if (!comparison.chosen_as.empty())
      lines.push_back(text.get("compare.chosen", {{"why", comparison.chosen_as}}));
    for (const std::string& reason : comparison.reasons) lines.push_back(reason);
    if (comparison.state != Comparison::State::compared) continue;
    for (const ImplantComparison& pair : comparison.implants)
      for (const Implant& implant : analysis.implants) {
        if (implant.id != pair.implant) continue;
        const std::string site =
            text.get("report.implant_group", {{"site", site_name(analysis, implant, text)}}) + ", ";
        const LeftRight<std::string> sides = side_names(analysis, implant, text);
        add_side(pair.crest.left, site + sides.left, text, lines);
        add_side(pair.crest.right, site + sides.right, text, lines);
      }
    lines.push_back(text.get("compare.mean"));
  }
  return lines;
}

}  // namespace crestgate
