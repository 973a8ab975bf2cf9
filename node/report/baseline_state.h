// A presentation state for the image that a later one was compared with, in that image's own study
// (follow_up.annotate_baseline): where platform and crest were measured, which later image it was
// compared with, the outcome, and the cautions. Patient and study are the baseline's, as stored.
#pragma once
#include "node/report/presentation_state.h"

namespace crestgate {

/// False unless `now` was compared with this very image and at least one flank gave a change; and
/// where no state can be drawn or no reference to the image be written.
bool baseline_state_wanted(const AnnotatedBaseline& baseline, const Analysis& now);

/// `shared` is that of the later image. The UID follows from the baseline, the later image, rules
/// and version, so that the same comparison made again gives the same object.
Result<BuiltObject> build_baseline_state(const AnnotatedBaseline& baseline, const Analysis& now,
                                         const Rules& rules, const Shared& shared,
                                         const Language& text);

/// ST, the type of Unformatted Text Value, holds 1024 characters (PS3.5 6.2).
constexpr std::size_t kMostStateCharacters = 1024;

/// Head, one line per outcome, cautions, in the source's character set. Outcomes that do not fit
/// are counted, not cut; a translation whose head and cautions alone do not fit ends in "...".
std::string state_words(DcmDataset& source, const std::string& head,
                        const std::vector<std::string>& outcomes, const std::string& cautions,
                        const Language& text);

/// Along the upper or lower border, whichever leaves more room to the joints and crests of all the
/// image's implants; lower than usual where it would come within 0.5 mm of one. One row is the
/// least: a viewer may then write beyond the box.
TextBox state_text_box(const Analysis& baseline);

}  // namespace crestgate
