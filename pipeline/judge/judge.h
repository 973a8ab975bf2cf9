// Stage judge: measures + rules -> intent, verdict, findings, reasons, one advice line.
#pragma once
#include "config/rules.h"
#include "pipeline/image/analysis.h"
#include "pipeline/inspect.h"

namespace crestgate {

/// Fills intent, verdicts, findings, reasons and advice of an analysis whose measures are complete.
void judge(Analysis& analysis, const Rules& rules, const Circumstances& circumstances);

}  // namespace crestgate
