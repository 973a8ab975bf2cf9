// TID 1501 groups: one per implant, one for the whole image. Internal to the structured report.
#pragma once
#include <dcmtk/config/osconfig.h>

#include <dcmtk/dcmsr/cmr/tid1500.h>

#include <string>

#include "config/language.h"
#include "config/rules.h"
#include "node/report/identity.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

struct GroupContext {
  const Analysis& analysis;
  const Rules& rules;
  const Shared& shared;
  const Language& text;
};

/// Fill an empty group; the first failed step is returned.
OFCondition fill_implant_group(CMR_TID1501_in_TID1500& group, const Implant& implant,
                               const GroupContext& context);
OFCondition fill_image_group(CMR_TID1501_in_TID1500& group, const GroupContext& context);

DSRCodedEntryValue verdict_code(Verdict verdict);
DSRCodedEntryValue finding_code(const std::string& kind);
/// "rule: text"; the text names value and limit.
std::string reason_text(const Reason& reason, const Language& text);

}  // namespace crestgate
