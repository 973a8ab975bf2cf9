#include "node/report/comparison_text.h"

#include "node/report/text.h"

namespace crestgate {
namespace {

std::string signed_mm(double mm) { return (mm > 0 ? "+" : "") + fixed(mm, 2) + " mm"; }

std::string date_words(const std::string& d) {
  return d.size() == 8 ? d.substr(0, 4) + "-" + d.substr(4, 2) + "-" + d.substr(6, 2) : d;
}

std::string budget_words(const CrestChange& change) {
  std::string words;
  for (const auto& part : change.budget)
    words += (words.empty() ? "" : ", ") + part.name + " " + fixed(part.standard_uncertainty_mm, 3);
  return words;
}

}  // namespace

std::string change_line(const CrestChange& c, const std::string& image_side) {
  std::string line = "image " + image_side;
  if (!c.side_of_site.empty()) line += " (" + c.side_of_site + ")";
  if (!c.change_mm) return line + ": not assessable (" + c.reason + ")";
  line += ": " + signed_mm(*c.change_mm) + " ± " + fixed(*c.expanded_uncertainty_mm, 2) + " mm, " +
          crest_change_name(c.state);
  if (c.smallest_resolvable_mm)
    line +=
        "; smallest change this pair could resolve " + fixed(*c.smallest_resolvable_mm, 2) + " mm";
  if (c.rate_mm_per_year) line += "; " + signed_mm(*c.rate_mm_per_year) + " a year";
  return line;
}

std::vector<std::string> comparison_lines(const Analysis& analysis) {
  std::vector<std::string> lines;
  if (!analysis.comparison_pending.empty())
    lines.push_back("Comparison pending: " + analysis.comparison_pending +
                    "; it will follow as a new report");
  for (const Comparison& comparison : analysis.comparisons) {
    std::string head = std::string("Compared with the image of ") +
                       date_words(comparison.baseline_date) + " (" + comparison.baseline_uid +
                       "): " + comparison_state_name(comparison.state);
    if (comparison.state == Comparison::State::compared)
      head += comparison.early_period ? "; early remodelling period" : "";
    lines.push_back(head);
    for (const std::string& reason : comparison.reasons) lines.push_back(reason);
    if (comparison.state != Comparison::State::compared) continue;
    for (const ImplantComparison& pair : comparison.implants)
      for (const bool left : {true, false}) {
        const CrestChange& c = left ? pair.crest.left : pair.crest.right;
        const std::string implant = "implant " + std::to_string(pair.implant) + ", ";
        lines.push_back("Crestal bone, loss positive: " + implant +
                        change_line(c, left ? "left" : "right"));
        if (!c.change_mm) continue;
        lines.push_back("Standard uncertainties in mm, " + implant + (left ? "left: " : "right: ") +
                        budget_words(c));
        if (c.brightness_mm && c.contrast_mm && c.gamma_mm)
          lines.push_back("The crest would move by " + fixed(*c.brightness_mm, 2) +
                          " mm under ±10 % brightness, " + fixed(*c.contrast_mm, 2) +
                          " mm under ±10 % contrast, " + fixed(*c.gamma_mm, 2) +
                          " mm under gamma 0.8 to 1.25");
      }
    lines.emplace_back(
        "Uncertainties are of this one pair. Random errors shrink in the mean of many sites; a "
        "bias "
        "common to all does not.");
  }
  return lines;
}

}  // namespace crestgate
