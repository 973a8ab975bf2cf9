// Marks over the original, for viewers that draw them: Grayscale Softcopy Presentation State
// (PS3.3 A.33.1). Vector graphics only; nothing is drawn within 0.5 mm of joint and bone contact,
// so that the marks never hide what they are about. The source's own grey rendering is kept.
#pragma once
#include <vector>

#include "config/language.h"
#include "config/rules.h"
#include "node/report/identity.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

inline constexpr double kKeepClear_mm = 0.5;

using Polyline = std::vector<Point>;  ///< JSON pixel coordinates

/// Pixels per mm; without a scale 0.35 radii stand for 0.5 mm (a slim implant's radius is 1.5 mm).
double drawing_px_per_mm(const Analysis& analysis, const ImplantShape& shape);

/// Axis beyond the apex, platform and crest ticks, lines beside the flanks; only inside the image.
std::vector<Polyline> presentation_lines(const Analysis& analysis);

/// False when there is nothing to draw, or the source is a colour image (its state would need
/// another class): then no state is written.
bool can_be_drawn_on(const Analysis& analysis, DcmDataset& source);

/// can_be_drawn_on, and the rules want it.
bool presentation_state_wanted(const Analysis& analysis, DcmDataset& source, const Rules& rules);

struct TextBox {
  Point top_left, bottom_right;  ///< JSON pixel coordinates
};

struct StateGraphics {
  std::vector<Polyline> lines;
  std::string text;  ///< in the source's character set; may be empty
  TextBox text_box;
};

/// A state over shared.source, of which `analysis` speaks.
Result<BuiltObject> build_state(const ObjectPlan& plan, const Analysis& analysis,
                                const Shared& shared, const StateGraphics& graphics);

Result<BuiltObject> build_presentation_state(const Analysis& analysis, const Rules& rules,
                                             const Shared& shared, const Language& text);

}  // namespace crestgate
