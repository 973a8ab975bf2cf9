// Which end of the body carries the platform, where stage detect could not tell or was mistaken.
#pragma once
#include "pipeline/platform/platform.h"

namespace crestgate {

/// Rates the cues of a platform at both ends. An end that detection left open becomes known where
/// one of them is far better marked, unless what seemed its platform is out of view; a known one is
/// doubted where the other is marked better still. Turns the shape over where the other end is the
/// likelier one. Returns the fix at the coronal end of what `shape` then is. What was measured with
/// another `coronal_known` or before a turn has to be measured again.
PlatformFix locate_at_either_end(const Frame& frame, const ProjectionMeasures& projection,
                                 const Scale& scale, ImplantShape* shape);

/// The same body with its ends exchanged: the origin at what was the apex, sides exchanged.
ImplantShape turned_over(const ImplantShape& shape);

}  // namespace crestgate
