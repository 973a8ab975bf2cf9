// A positioning jig is judged by what it repeats, not by being named: the projection of an exposure
// against an earlier one made with the same jig. Pure.
#pragma once
#include <string>

#include "config/rules.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// The jig an image was made with: the word after `positioning.before` in the attribute the rule
/// names (upper or lower case alike). Empty: no such rule, or no jig named.
std::string jig_id(const Acquisition& acquisition, const std::optional<Positioning>& rule);

/// Says in `now.reasons` what the jig repeats between `before` and `now`, per implant in both:
/// difference of vertical angle and turn in the picture plane, and of the implant's size. A
/// difference beyond the rule's amount, and beyond its own uncertainty where that is known, asks to
/// remake the jig: reason and advice. Nothing is said if the two were not made with one jig, or are
/// not certain to show one site of one person.
void judge_jig(Analysis& now, const Analysis& before, const Rules& rules);

}  // namespace crestgate
