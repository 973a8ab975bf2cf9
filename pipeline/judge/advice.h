// The one advice line: what to do at the chair, worded by jaw from theta (design.md section 3).
#pragma once
#include <string>
#include <vector>

#include "pipeline/judge/question.h"

namespace crestgate {

/// How to move the tube so that |theta| falls, e.g. "lower the tube head and aim it about 5° more
/// towards the ceiling". Direction only if resolved; else it says so and how to check.
std::string movement_text(const ProjectionMeasures& projection, Jaw jaw, const Language& text);

struct AdviceInput {
  const Analysis* analysis = nullptr;
  std::vector<const Answer*> answers;  ///< per implant; nullptr where none was judged
  int attempt = 1;
  bool repeats_used_up = false;
};

/// What is advised about the image: never empty. Findings are put before it
/// (pipeline/image/advice.h).
std::string advised_action(const AdviceInput& input, const Language& text);

}  // namespace crestgate
