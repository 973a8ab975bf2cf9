#include "node/report/quality_codes.h"

#include <algorithm>

#include "node/report/wording.h"

namespace crestgate {
namespace {

bool has(const std::string& text, const char* part) { return text.find(part) != std::string::npos; }

const CodedConcept* code_of(const std::string& cause, const Analysis& analysis) {
  if (has(cause, "angle") || has(cause, "margin") || has(cause, "view")) {
    return &codes::kPositioning;
  }
  if (has(cause, "blur")) return &codes::kMotionBlur;
  // Too few photons show as noise; metal driven to the bright end lacks exposure, soft tissue
  // driven to the dark end has too much (frames hold larger = more radiopaque).
  if (has(cause, "noise")) return &codes::kUnderExposed;
  if (has(cause, "clip")) {
    return analysis.quality.clipped_low > analysis.quality.clipped_high ? &codes::kOverExposed
                                                                        : &codes::kUnderExposed;
  }
  return nullptr;
}

}  // namespace

std::vector<const CodedConcept*> quality_codes(const Analysis& analysis) {
  const CodedConcept* const order[] = {&codes::kPositioning, &codes::kMotionBlur,
                                       &codes::kUnderExposed, &codes::kOverExposed};
  std::vector<const CodedConcept*> found;
  bool unnamed = false;
  auto note = [&](const std::string& cause) {
    const CodedConcept* code = code_of(cause, analysis);
    if (code) found.push_back(code);
    return code != nullptr;
  };
  for (const Reason* reason : unmet_reasons(analysis)) {
    if (note(reason->rule)) continue;
    const bool joint_rule = has(reason->rule, "hidden_gap");
    bool named = false;
    for (const Implant& implant : analysis.implants) {
      if (joint_rule && reason->implant == implant.id) named |= note(implant.joint.bounded_by);
    }
    unnamed = unnamed || !named;
  }
  std::vector<const CodedConcept*> sorted;
  for (const CodedConcept* code : order) {
    if (std::find(found.begin(), found.end(), code) != found.end()) sorted.push_back(code);
  }
  if (sorted.empty() && unnamed) sorted.push_back(&codes::kOtherFailure);
  return sorted;
}

}  // namespace crestgate
