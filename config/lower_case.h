// Texts are compared without regard to case.
#pragma once
#include <algorithm>
#include <cctype>
#include <string>

namespace crestgate {

/// ASCII letters only.
inline std::string lower_case(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}

}  // namespace crestgate
