// Single rules applied to single measures. Each adds one reason and says how it went. Private to
// this folder.
#pragma once
#include "pipeline/judge/question.h"

namespace crestgate {

/// `borderline`: the value holds, but the limit lies inside its uncertainty.
enum class Outcome { holds, borderline, over, unknown };

Outcome check_angle(const Implant& implant, double limit_deg, const char* rule,
                    const Language& text, Answer& answer);
Outcome check_hidden_gap(const Implant& implant, const Rules& rules, Answer& answer);
/// Margin in view beyond the apex against the least one wanted, with its uncertainty; without a
/// scale by the bounds of a body of any usual width, which may leave it unknown.
Outcome check_apical_margin(const Implant& implant, const Rules& rules, Answer& answer);
Outcome check_noise(const Analysis& analysis, const Rules& rules, Answer& answer);
Outcome check_blur(const Analysis& analysis, const Rules& rules, Answer& answer);
/// Around the implant's joint; over the whole image where there is no joint to look at.
Outcome check_clipping(const Analysis& analysis, const Implant* implant, const Rules& rules,
                       Answer& answer);

/// Adds a statement without value and limit.
void state(Answer& answer, const char* rule, const Implant* implant, std::string text);

void worsen(Answer& answer, Verdict verdict);

}  // namespace crestgate
