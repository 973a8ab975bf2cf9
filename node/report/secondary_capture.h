// Wraps the picture as a Secondary Capture image (PS3.3 A.8.1), 8-bit RGB.
#pragma once
#include "config/language.h"
#include "config/rules.h"
#include "node/report/canvas.h"
#include "node/report/identity.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

Result<BuiltObject> build_picture_object(Canvas& canvas, const Analysis& analysis,
                                         const Rules& rules, const Shared& shared,
                                         const Language& text);

/// The same for the picture of a comparison; `number` counts the pictures of one image.
Result<BuiltObject> build_subtraction_object(Canvas& canvas, int number, const Shared& shared,
                                             const Language& text);

}  // namespace crestgate
