// Where a scale came from, in words. Pure.
#pragma once
#include <string>

#include "config/language.h"

namespace crestgate {

/// Words for Scale::source, part by part: "imager, usual magnification assumed".
std::string scale_source_text(const std::string& source, const Language& text);

}  // namespace crestgate
