// What is not judged, and what is judged but never alerted on (design section 1, step 1). Pure.
#pragma once
#include <string>

#include "config/rules.h"
#include "pipeline/image/acquisition.h"

class DcmDataset;

namespace crestgate {

/// Why this object is not judged at all; empty if it is. `calling_ae`: who sent it; `any_sender`:
/// a person asked for this very file (inspect), so who sent it does not matter.
std::string why_not_judged(DcmDataset& dataset, const Rules& rules, const std::string& calling_ae,
                           bool any_sender);

/// Why this image gets report and picture but no note; empty if notes are allowed.
/// `today`: YYYYMMDD. Trial mode is left to the report stage.
std::string why_no_note(const Acquisition& acquisition, const Rules& rules,
                        const std::string& today);

/// Whole days from one YYYYMMDD to another; false in `good` if either is no date.
int days_between(const std::string& from, const std::string& to, bool& good);

}  // namespace crestgate
