// The advice as a whole: what was found leads, whatever is advised about the image. Pure.
#pragma once
#include "pipeline/image/analysis.h"

namespace crestgate {

/// Sets `advice` to one line of `findings`, then `action`.
inline void lead_advice_with_findings(Analysis& analysis) {
  std::string line;
  const auto add = [&line](const std::string& part) {
    line += (line.empty() || part.empty() ? "" : "; ") + part;
  };
  for (const Finding& finding : analysis.findings) add(finding.text);
  add(analysis.action);
  for (char& c : line)
    if (c == '\n' || c == '\r') c = ' ';
  analysis.advice = line.empty() ? "" : sentence(line) + ".";
}

}  // namespace crestgate
