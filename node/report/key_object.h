// Key object notes: what any viewer and worklist shows beside an image (PS3.16 TID 2010). Title
// 113010 'Quality Issue' with a CID 7011 reason when a repeat is advised, 113000 'Of Interest' for
// a finding; never a title that makes archives hide the image.
#pragma once
#include <vector>

#include "config/language.h"
#include "config/rules.h"
#include "node/report/identity.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

struct NotesWanted {
  bool repeat = false;  ///< needs an intent stated by request or rule
  bool finding = false;
};
/// None in trial mode, when the context suppresses them or the rules switch them off.
NotesWanted notes_wanted(const Analysis& analysis, const Rules& rules,
                         const ReportContext& context);

Result<BuiltObject> build_repeat_note(const Analysis& analysis, const Rules& rules,
                                      const Shared& shared, const Language& text);
Result<BuiltObject> build_finding_note(const Analysis& analysis, const Rules& rules,
                                       const Shared& shared, const Language& text);

}  // namespace crestgate
