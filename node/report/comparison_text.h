// Comparisons with earlier images in words: the lines of report, text and picture.
#pragma once
#include <string>
#include <vector>

#include "pipeline/image/analysis.h"

namespace crestgate {

/// One line for the state, one per reason, one per flank; empty if no comparison was wanted. UTF-8.
std::vector<std::string> comparison_lines(const Analysis& analysis);

/// One flank: "image left (mesial): +0.45 mm ± 0.18 mm, resolved: loss; ...".
std::string change_line(const CrestChange& change, const std::string& image_side);

}  // namespace crestgate
