// The report for machines and researchers: Comprehensive SR, PS3.16 TID 1500 with one TID 1501
// measurement group per implant and one for the image. DCMTK 3.6.7's classes build TID 1500, 1001,
// 1204, 1600, 1501 and 300; rows of TID 310 (uncertainty) and TID 4019 (algorithm) are added to
// their trees here. What could not be measured is a NUM without value and with a CID 42 qualifier.
#pragma once
#include "config/language.h"
#include "config/rules.h"
#include "node/report/identity.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

Result<BuiltObject> build_structured_report(const Analysis& analysis, const Rules& rules,
                                            const Shared& shared, const Language& text);

}  // namespace crestgate
