// Comparisons with earlier images in words: the lines of report, text and picture. UTF-8.
#pragma once
#include <string>
#include <vector>

#include "config/language.h"
#include "config/number_text.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// One line for the state, one per reason, one per flank; empty if no comparison was wanted.
std::vector<std::string> comparison_lines(const Analysis& analysis, const Language& text);

/// Which image it was compared with, and what came of it.
std::string comparison_head(const Comparison& comparison, const Language& text);

/// "+0.45 ± 0.18 mm, resolved: loss" or why there is none.
std::string change_text(const CrestChange& change, const Language& text);

/// "loss 0.45 ± 0.18 mm", "within measurement error", "not assessable": where room is scarce.
std::string change_words(const CrestChange& change, const Language& text);

/// Both sides of one implant against the newest earlier image, for a table; why not otherwise.
std::string change_cell(const Analysis& analysis, const Implant& implant, const Language& text);

/// "standard uncertainties in mm: localisation 0.030, ..."; empty for an empty budget.
template <class Contribution>
std::string budget_text(const std::vector<Contribution>& budget, const Language& text) {
  std::string words;
  for (const Contribution& part : budget)
    words += (words.empty() ? "" : ", ") + text.get("budget." + part.name) + " " +
             fixed(part.standard_uncertainty_mm, 3);
  return words.empty() ? words : text.get("change.budget", {{"terms", words}});
}

}  // namespace crestgate
