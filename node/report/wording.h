// What an analysis says in words, shared by the picture, the report, the notes and the series
// descriptions, so that they never tell different stories. Pure; UTF-8.
#pragma once
#include <string>
#include <vector>

#include "config/language.h"
#include "config/number_text.h"
#include "config/rules.h"
#include "pipeline/image/site.h"

namespace crestgate {

struct Headline {
  std::string main;         ///< the finding, or what was looked for with its limit
  std::string sub;          ///< one line of context
  bool is_finding = false;  ///< something about the patient that wants attention
};

/// Implant the picture enlarges: the first with a finding, else the worst judged one, else the
/// first; nullptr without implants.
const Implant* leading_implant(const Analysis& analysis);

Headline headline(const Analysis& analysis, const Language& text);

/// "9.1 ± 1.4°" and on a second line its direction, or why there is none.
std::string angle_text(const Implant& implant, const Language& text);
/// "under 40 µm" and the design it holds for.
std::string limit_text(const Implant& implant, const Language& text);
std::string crest_text(const Analysis& analysis, const Implant& implant, const Language& text);
std::string scale_text(const Analysis& analysis, const Language& text);

/// Reasons about one implant or the image that are not met (value beyond limit, or no value given).
std::vector<const Reason*> unmet_reasons(const Analysis& analysis);

/// What every picture of ours says below: not for diagnosis, what a radiograph does not show.
std::string cautions_text(const Language& text);

/// Verdict and finding in at most 64 ASCII characters (LO), "trial: " first in trial mode.
std::string series_description(const Analysis& analysis, const Rules& rules, const Language& text);

/// What is advised, as a sentence of its own: the headline tells the findings already. May be
/// empty.
std::string action_sentence(const Analysis& analysis);

/// Limit in whole micrometres, rounded up: never claims more than was computed.
std::string limit_um(double limit_mm);

}  // namespace crestgate
