// Numbers as short text, never more precise than their uncertainty; digits and units are the same
// in every language.
#pragma once
#include <optional>
#include <string>

#include "config/language.h"
#include "config/number_text.h"

namespace crestgate {

/// Value of an optional measure, empty also if it is NaN or infinite.
std::optional<double> known(const std::optional<double>& value);
/// Same for a quantity; its uncertainty must be finite too.
std::optional<Quantity> known(const std::optional<Quantity>& quantity);

std::string mm_text(double mm);  ///< "0.045 mm", "1.3 mm"
/// A gap that shows or hides, rounded up, since less must not be claimed: "40 µm".
std::string gap_text(double mm);
std::string angle_text(Quantity angle_deg);  ///< magnitude: "9.0 ± 1.5°"

/// Amount to turn the beam by, rounded to the first of 1, 2, 5, 10 degrees that is not finer than
/// U: "about 10°", or "slightly" if nothing is left.
std::string amount_text(Quantity angle_deg, const Language& text);

}  // namespace crestgate
